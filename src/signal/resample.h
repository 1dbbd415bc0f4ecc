/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* How many samples cover frames samples at ratio times their rate. */
size_t cw_resample_frames(size_t frames, double ratio);

/* Brings frames samples to ratio (output rate over input rate) times their rate: 0.01 to 100, and as near to
 * 1 as a clock's drift, for the ratio is kept in extended precision. Sample 0 stays where it is in time; what
 * lies outside the input counts as silence. out takes cw_resample_frames() samples. Pass band to 0.91 of the
 * lower half rate, error and aliases below -150 dB (soxr, "very high quality", flat pass band, high-precision
 * clock). Returns the samples written, all of them; 0 where the ratio is out of range. */
size_t cw_resample(const double *in, size_t frames, double ratio, double *out);
