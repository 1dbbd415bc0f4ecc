/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stdbool.h>
#include <stddef.h>

/* Normal equations of a least-squares step, gathered row by row: matrix = J^T J, gradient = J^T r. */
typedef struct {
  size_t count;
  double *matrix; /* count x count, upper half */
  double *gradient;
  bool *held; /* variables that stay where they are */
} CwNormalEquations;

/* For count variables, all 0 and none held. Free with cw_normal_equations_free(). */
CwNormalEquations *cw_normal_equations_new(size_t count);

/* Frees them; NULL is let pass. */
void cw_normal_equations_free(CwNormalEquations *equations);

/* Sets matrix and gradient to 0; what is held stays. */
void cw_normal_equations_clear(CwNormalEquations *equations);

/* rows of count slopes each, and their residuals. */
void cw_normal_equations_add_rows(CwNormalEquations *equations, const double *jacobian,
                                  const double *residual, size_t rows);
void cw_normal_equations_add_diagonal(CwNormalEquations *equations, size_t index, double bend, double slope);

/* diagonal = that of (matrix + damping * diagonal)^-1; 0 for held variables. False where the matrix is not
 * positive. */
bool cw_normal_equations_inverse_diagonal(const CwNormalEquations *equations, double damping,
                                          double *diagonal);

/* For each of count gradients (count x equations' count): by how much the sum of squares falls at least when
 * the step that solves for it is taken, gradient^T (matrix + damping * diagonal)^-1 gradient. All 0 where the
 * matrix is not positive. */
void cw_normal_equations_falls(const CwNormalEquations *equations, double damping, const double *gradient,
                               size_t count, double *fall);

/* step = -(matrix + damping * diagonal)^-1 gradient by Cholesky; held variables get 0. False where the matrix
 * is not positive. */
bool cw_normal_equations_solve(const CwNormalEquations *equations, double damping, double *step);
