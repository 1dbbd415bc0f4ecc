/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* All-pass sections where they pay: turning the phase of one speaker where its partner on the other side, or
 * the next way, would cancel it. Only the stage's speakers between bass and tweeters get one. */

/* Adds the all-pass section that lowers the cost furthest, with all else fitted again, in the place of the
 * section that its output misses least if that has all it may. False, and the state as it was, where none is
 * worth it or the processor has none. */
bool cw_all_pass_add(const CwFitProblem *problem, CwFitState *state);

/* Takes out those that have ceased to pay. */
void cw_all_pass_thin(const CwFitProblem *problem, CwFitState *state);
