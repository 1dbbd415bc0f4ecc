/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* A first state for the fit: crossovers from the drivers' limits, levels from the target, no sections,
 * polarity as heard. */
CwFitState *cw_first_state(const CwFitProblem *problem);

/* Changes the slope of the crossover under a way from 24 to 48 dB an octave or back. False where there is
 * none, or the processor has no such. */
bool cw_first_state_other_slope(const CwFitProblem *problem, CwFitState *state, CwWay upper);

/* Moves each speaker group's delay and polarity against those above it to where the sum loses least. */
void cw_first_state_align(const CwFitProblem *problem, CwFitState *state);
