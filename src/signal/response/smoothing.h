/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/memory.h"

/* Mean of a power spectrum in windows of a constant part of an octave. power: bins values bin_hz apart from 0
 * Hz. For each of the count centres, the mean over centre * 2^(-octaves/2) to centre * 2^(octaves/2), bins at
 * the edges counted in part, so that narrow windows at low frequencies interpolate instead of jumping.
 * Centres must lie above 0. */
void cw_smooth_power(const double *power, size_t bins, double bin_hz, double octaves, const double *centre_hz,
                     size_t count, double *mean);

/* The same for a complex spectrum; delays much longer than the window's reciprocal should be taken out
 * before. */
void cw_smooth_complex(const CwComplex *spectrum, size_t bins, double bin_hz, double octaves,
                       const double *centre_hz, size_t count, CwComplex *mean);
