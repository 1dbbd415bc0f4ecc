/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stdbool.h>
#include <stddef.h>

/* How wide a reader of a response may smooth it without being misled near its ends. */
#define CW_KNOWN_BAND_OCTAVES (1.0 / 6)

/* Decides where a response of count points ends. A mean over a part of an octave near the last known point
 * sees only one side of what is there; where the response is steep or ragged it tells another level than the
 * whole window would. Runs of known points shorter than such a window are dropped, and then the ends are
 * drawn in, by at most half an octave, until every such mean is within 0.8 dB of the whole window's. mean:
 * power at the points, which are points_per_octave apart; window_mean: mean power over CW_KNOWN_BAND_OCTAVES
 * at and half-way between the points, 2 * count values, from the spectrum itself and so from both sides of an
 * end. known is changed in place. */
void cw_known_band_settle(const double *mean, const double *window_mean, size_t count,
                          size_t points_per_octave, bool *known);
