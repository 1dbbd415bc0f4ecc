/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* Holes: narrow dips, deep below both their shoulders, as two arrivals of about the same size leave them. A
 * lift cannot fill them (it lifts both arrivals), it only eats headroom. Common practice, no source. */

/* Marks the bands where lifting the output is refused: no_boost takes as many values as there are bands; the
 * dip is at least 15 dB below the highest level within an octave on either side, inside low_hz to high_hz. */
void cw_null_mark(const CwBandMatrices *bands, const double *seat_weight, size_t output, double low_hz,
                  double high_hz, bool *no_boost);

/* A hole that is left in the sum of one side. */
typedef struct {
  CwSide side;         /* left or right */
  double hz, depth_db; /* where, and how far below the target and its shoulders */
  size_t output;       /* the loudest output there */
  bool between;        /* speakers cancel each other there; else it is this output's own */
} CwNull;

#define CW_NULLS_MOST 12

/* The holes that the state leaves, deepest first; list takes CW_NULLS_MOST. Returns how many. */
size_t cw_null_find(const CwFitProblem *problem, const CwFitState *state, CwNull *list);
