/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/take.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* What the other takes of a vehicle say against a new one, as CwTakeFault: that it holds another output's
 * speaker (its response is that of the other output's take at the same position, to the noise), or that the
 * microphone moved (its clock ran otherwise than in the other takes that were timed by markers). 0 for
 * nothing. */
unsigned cw_job_check_take(CwRecord *vehicle, gint64 output, const char *position, CwTakeTiming timing,
                           CwPurpose purpose, const CwTakeResult *result);

/* The widest band, within the sweep, that is less than 20 dB above the noise: FALSE for none. */
gboolean cw_job_noisy_band(const CwTakeResult *result, double *low_hz, double *high_hz);

G_END_DECLS
