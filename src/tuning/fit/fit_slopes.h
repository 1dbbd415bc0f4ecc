/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit_rows.h"

/* Where the residuals stand and how they move with the variables; inside the room only. Bands are 24 an
 * octave. Sums are judged in 1/6 octaves, 12 an octave; the match of the sides in 1/3 octaves, 6 an octave.
 */
enum { CW_FIT_SIDE_REACH = 2, CW_FIT_SIDE_STEP = 2, CW_FIT_MATCH_REACH = 4, CW_FIT_MATCH_STEP = 4 };

/* How many of the bands are points. */
size_t cw_fit_points(size_t bands, size_t step);

/* Mean power around a band: reach bands to either side, the outermost half. */
double cw_fit_smoothed(const double *power, size_t bands, size_t centre, size_t reach);

/* Adds factor * weight * d(smoothed dB)/d(variable) of one sum to the rows of one kind; nothing where the
 * weight is 0. */
void cw_fit_add_slopes(CwFitRows *rows, const CwFitVars *vars, const CwComplex *force, const double *power,
                       size_t bands, size_t first_row, size_t reach, size_t step, const double *weight,
                       double factor);
