/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* Frequencies evenly spaced over log frequency. */

/* How many points from low_hz to high_hz (inclusive where it falls on the grid) at per_octave points an
 * octave, low_hz first. */
size_t cw_log_grid_count(double low_hz, double high_hz, double per_octave);
double cw_log_grid_hz(double low_hz, double per_octave, size_t index);
void cw_log_grid_fill(double low_hz, double per_octave, size_t count, double *hz);

/* Value at hz of a curve given at count rising frequencies, straight lines over log frequency, ends held. */
double cw_log_grid_interpolate(const double *curve_hz, const double *value, size_t count, double hz);
