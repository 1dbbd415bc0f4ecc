/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* A running stream at half its rate: a half-band low-pass, of which every other sample is kept. Flat within
 * 0.001 dB up to 0.28 of the new rate, and what would fold below that is 96 dB down. Nothing is allocated. */
#define CW_DECIMATOR_PAIRS 10                          /* coefficients beside the one in the middle */
#define CW_DECIMATOR_TAPS (4 * CW_DECIMATOR_PAIRS - 1) /* span of the filter in samples of the old rate */
#define CW_DECIMATOR_BLOCK 1024                        /* most samples in one call */

typedef struct {
  double pair[CW_DECIMATOR_PAIRS];
  double kept[CW_DECIMATOR_TAPS + 1 + CW_DECIMATOR_BLOCK];
  size_t count; /* kept now */
} CwDecimator;

/* From rest. */
void cw_decimator_init(CwDecimator *decimator);

/* Takes count samples, at most CW_DECIMATOR_BLOCK, and writes those of the new rate that they complete, at
 * most (count + 1) / 2, to out, which may be samples. Returns how many. */
size_t cw_decimator_run(CwDecimator *decimator, const double *samples, size_t count, double *out);

/* Brings samples that are all there to half their rate in place and returns how many are left, (frames + 1)
 * / 2. Zero phase, so sample 0 stays where it is in time; flat to 0.001 dB up to 0.42 of the new rate, what
 * would fold into that band 90 dB down. */
size_t cw_halve_rate(double *samples, size_t frames);
