/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* How far voicing may go: what protects a speaker is never undone, and what goes over full scale is turned
 * down. */

/* The first speaker that its output, with the voicing as it is, does not protect below its lowest safe
 * frequency; NULL where all are. Muted outputs do not count. Borrowed. */
CwRecord *cw_job_find_exposed_speaker(CwRecord *vehicle);

/* Turns all outputs down alike until none goes over full scale when both sides play loud, on the processor's
 * steps; returns by how much, dB: what the voicing costs in headroom. 0, and nothing changed, where none does
 * or a gain is locked. */
double cw_job_make_room(CwRecord *vehicle);

G_END_DECLS
