/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/least_squares.h"
#include "signal/memory.h"
#include <math.h>

/* Tries steps from one linearisation, each shorter than the one before, until one costs less. */
static bool improve(const CwLeastSquares *search, const CwNormalEquations *equations, double *step,
                    double *damping, double *cost)
{
  for (int attempt = 0; attempt < search->attempts; attempt++) {
    double now =
        cw_normal_equations_solve(equations, *damping, step) ? search->propose(search->data, step) : INFINITY;
    if (now < *cost) {
      *cost = now;
      *damping = fmax(*damping / search->ease, search->damping_least);
      return true;
    }
    *damping *= search->raise;
  }
  return false;
}

double cw_least_squares_run(const CwLeastSquares *search)
{
  CwNormalEquations *equations = cw_normal_equations_new(search->variables);
  double *step = cw_alloc_real(search->variables), damping = search->damping, cost = INFINITY;

  for (int round = 0; round < search->rounds; round++) {
    double before;
    if (round > 0 && search->cancelled && search->cancelled(search->data))
      break;
    cw_normal_equations_clear(equations);
    before = search->linearise(search->data, equations);
    if (round == 0)
      cost = before;
    before = cost;
    if (!improve(search, equations, step, &damping, &cost))
      break;
    search->accept(search->data);
    if (before - cost < search->least_gain * before)
      break;
  }
  cw_normal_equations_free(equations);
  cw_free(step);
  return cost;
}
