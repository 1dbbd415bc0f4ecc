/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* What a technician would not sign, taken out: filters that stand on one another or fight, that do next to
 * nothing, that work where their output does not play, that add up beyond the limits, or that undo what
 * protects the speaker. Fixed sections and held settings stay as they are. */

/* One pass over all outputs. on_steps: every value that is changed ends on the processor's steps. Returns
 * whether anything changed; then the fit may run again, and another pass after it. */
bool cw_tidy(const CwFitProblem *problem, CwFitState *state, bool on_steps);

/* Passes, with the fit between them (frequencies held), until nothing changes. */
void cw_tidy_and_fit(const CwFitProblem *problem, CwFitState *state);
