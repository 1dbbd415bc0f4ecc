/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit_rows.h"

/* What no tune may do, as residuals: far from the bound they are 0. Inside the room only. */

/* How far all of an output's sections together boost or cut beyond what is allowed, at 6 points an octave. */
void cw_fit_bound_rows(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state, size_t output,
                       const CwFitVars *vars);

/* How far an output's level half an octave below its lowest safe frequency comes nearer than
 * CW_SETTING_LEAST_FALL_DB, and some room, to the most that it has where it may play. */
void cw_fit_protection_row(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state,
                           size_t output, const CwFitVars *vars);
