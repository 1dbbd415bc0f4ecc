/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"
#include <stddef.h>

/* The frequency of the strongest line above low_hz in a stretch of at least a few periods: by a Hann window's
 * bins, between bins by the ratio of neighbours. frames a good length for transforms, see
 * cw_fft_good_length(). */
double cw_tone_strongest_hz(const double *samples, size_t frames, double rate_hz, double low_hz);

/* The tone of a known frequency in a stretch, by least squares for sine and cosine: its complex amplitude A,
 * so that the samples are Re(A exp(j 2 pi hz n / rate_hz)) and a rest, whose mean square rest takes. */
CwComplex cw_tone_fit(const double *samples, size_t frames, double hz, double rate_hz, double *rest);
