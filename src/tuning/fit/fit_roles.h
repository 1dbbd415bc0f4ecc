/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit_rows.h"

/* What the part that a speaker plays asks of it, beyond the sums; inside the room only. */

/* How far fill (an output beside the stage) rises above what it may have of a side's sum, point by point; not
 * where the stage has a hole. The sum's power and force stand in rows. */
void cw_fit_fill_rows(CwFitRows *rows, const CwFitProblem *problem, size_t seat, CwSum side, size_t output,
                      const CwFitVars *vars);

/* How far an output's lifts reach up, together, where it is to have none, point by point. No rows for an
 * output that may be lifted everywhere. */
void cw_fit_lift_rows(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state, size_t output,
                      const CwFitVars *vars);
bool cw_fit_has_refusal(const CwFitProblem *problem, size_t output);

/* How far an output's sections turn it down on the whole, beyond what their cuts have to: its gain can do
 * that without using up sections and headroom. */
void cw_fit_waste_row(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state, size_t output,
                      const CwFitVars *vars);
