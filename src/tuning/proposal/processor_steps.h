/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* Brings a fitted state onto the processor's grid: corners and centres first, then Q, then gains; what is not
 * yet on it is fitted again after each, and in the end every setting is tried one step up and down. Output
 * gains and delays stay as they are. */
CwFitResult cw_processor_steps_filters(const CwFitProblem *problem, CwFitState *state);

/* Whether the grid is so coarse that coming onto it costs something. */
bool cw_processor_steps_is_coarse(const CwLimits *limits);
