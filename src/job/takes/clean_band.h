/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* From where on a speaker plays cleanly, as its takes heard it. */
typedef struct {
  double from_hz;       /* lowest_hz, or above it where the takes say so; at most an octave */
  double worst_percent; /* second and third harmonic together, from about lowest_hz to from_hz; NAN where
                           from_hz is lowest_hz */
  double worst_hz;
} CwCleanRange;

/* Harmonics are taken against the level of the octave around, so that a dip of the cabin at one frequency
 * does not count as distortion; the median of the accepted takes for tuning speaks. Limit 3 %: common
 * practice, no source. */
CwCleanRange cw_job_clean_range(CwRecord *vehicle, gint64 output, double lowest_hz);

/* Second and third harmonic together, percent, as above, of the output's takes near hz; NAN where fewer than
 * two know it. */
double cw_job_distortion_percent(CwRecord *vehicle, gint64 output, double hz);

G_END_DECLS
