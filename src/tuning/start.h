/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit.h"

/* A first state for the fit: crossovers from the drivers' limits, levels from the target, sections spread over each band and flat,
 * polarity as heard. */
CwFitState *cw_start_state(const CwFitProblem *problem);

/* Moves each speaker group's delay and polarity against those above it to where the sum loses least. */
void cw_start_align(const CwFitProblem *problem, CwFitState *state);
