/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/take.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* A take as it is held against those of other outputs. */
typedef struct {
  gint64 output;
  const char *position;
  CwTakeTiming timing;
  CwPurpose purpose;
  const CwNumbers *response; /* Hz, dB at the points of a take */
  double arrival_ms;
} CwTakeLikeness;

/* The other output whose accepted take at the same position is this one again, level and arrival and all: one
 * speaker played both. CW_NO_INTEGER for none. */
gint64 cw_job_same_speaker(CwRecord *vehicle, const CwTakeLikeness *like);

/* What the other takes of a vehicle say against a new one, as CwTakeFault: that it holds another output's
 * speaker (its response is that of the other output's take at the same position, to the noise), or that the
 * microphone moved (its clock ran otherwise than in the other takes that were timed by markers). 0 for
 * nothing. */
unsigned cw_job_check_take(CwRecord *vehicle, gint64 output, const char *position, CwTakeTiming timing,
                           CwPurpose purpose, const CwTakeResult *result);

/* The widest band, within the sweep, that is less than 20 dB above the noise: FALSE for none. */
gboolean cw_job_noisy_band(const CwTakeResult *result, double *low_hz, double *high_hz);

G_END_DECLS
