/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit_model.h"

/* The residuals of the joint fit and their slopes; inside the room only. */
typedef struct {
  size_t count, vars, outputs;
  double *residual;
  double *jacobian;   /* count x vars; NULL if made for no variables */
  CwFitResult result; /* cost: the sum of squares alone */
  /* work space */
  CwComplex *drive, *slope,
      *force; /* force: outputs x bands, how a relative change of each drive changes a sum's power */
  double *power, *line;
} CwFitRows;

/* Room for the rows of a problem and for the slopes of vars variables (0 for none). Free with
 * cw_fit_rows_free(). */
CwFitRows *cw_fit_rows_new(const CwFitProblem *problem, const CwFitState *state, size_t vars);

/* Frees them; NULL is let pass. */
void cw_fit_rows_free(CwFitRows *rows);

/* Residuals at the state; with vars (as read from the state) also the slopes. */
void cw_fit_rows_compute(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state,
                         const CwFitVars *vars);

/* The same for variables that the state does not have (yet), whose slopes of the drives already stand in
 * rows->slope. */
void cw_fit_rows_compute_given(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state,
                               const CwFitVars *vars);
