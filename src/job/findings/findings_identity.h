/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/takes/identify.h"

G_BEGIN_DECLS

/* Adds the measuring stage's findings on exchanged and misplaced speakers, distances that the sound
 * contradicts, and positions that cannot be where they say. identity: one an output of the car. */
void cw_job_find_identity(CwRecord *vehicle, const CwHeardCar *car, const CwSpeakerIdentity *identity);

G_END_DECLS
