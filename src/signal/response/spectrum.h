/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"
#include "signal/response/bands.h"

/* Power spectrum by averaged periodograms (Welch, IEEE Trans. AU-15, 1967): Hann windows of window samples
 * (even) overlapping by half. power takes window / 2 + 1 bins; over a stretch of bins it adds up to the mean
 * square of what lies in it, so that the sum of all is that of the samples. Fewer than window samples are
 * padded with silence and weighed by their number. Returns how many windows were averaged. */
size_t cw_welch_power(const double *samples, size_t frames, size_t window, double *power);

/* Mean square in a band from bins bin_hz apart, bins at its edges counted in part. */
double cw_band_power(const double *power, size_t bins, double bin_hz, const CwBand *band);
