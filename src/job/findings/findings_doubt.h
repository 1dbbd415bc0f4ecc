/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Adds the tuning stage's findings on outputs of a tune whose time or polarity is not known. */
void cw_job_find_tuning_doubts(CwRecord *vehicle, CwRecord *tune);

G_END_DECLS
