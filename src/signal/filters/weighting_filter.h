/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/section.h"
#include "signal/response/bands.h"

typedef enum { CW_WEIGHTING_A, CW_WEIGHTING_C } CwWeighting;

#define CW_WEIGHTING_MOST_SECTIONS 3
#define CW_BAND_FILTER_SECTIONS 4

/* The sections of a frequency weighting after IEC 61672-1, class 1 from 10 Hz to 20 kHz; 0 dB at 1 kHz. The
 * squared magnitude of a section is a ratio of polynomials in the cosine of the frequency, so the analogue
 * weighting is met exactly at as many frequencies as those have coefficients: this keeps the top octave,
 * which the bilinear transform loses; the deviation is below 0.1 dB. cascade takes
 * CW_WEIGHTING_MOST_SECTIONS. Returns how many there are; 0 where rate_hz is below 44 kHz, at which 20 kHz
 * can no longer be met. */
size_t cw_weighting_filter_design(CwWeighting weighting, double rate_hz, CwCoefficients *cascade);

/* A band-pass for a fractional-octave band after IEC 61260-1, class 1: Butterworth of order four on either
 * side, at -3.01 dB at the band's edges, by the bilinear transform with both edges pre-warped. cascade takes
 * CW_BAND_FILTER_SECTIONS. Returns how many there are; 0 where the upper edge is above 0.47 of the rate,
 * beyond which the class cannot be kept. */
size_t cw_band_filter_design(const CwBand *band, double rate_hz, CwCoefficients *cascade);
