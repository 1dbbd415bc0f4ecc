/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit.h"
#include "signal/least_squares.h"
#include "tuning/fit/fit_model.h"
#include "tuning/fit/fit_rows.h"
#include <math.h>
#include <string.h>

/* A boost costs, and so does every section that does much against another: decibels of gain that weigh as a
 * unit of the residuals. */
#define BOOST_UNIT_DB 160.0
#define GAIN_UNIT_DB 360.0
#define Q_UNIT 48.0 /* in log Q against 1: narrow filters fit one place of the head, not the next */

static double preference(const CwFitVar *v, double *slope, double *bend)
{
  double unit = INFINITY;

  if (v->kind == CW_VAR_SECTION_GAIN)
    unit = v->value > 0 ? BOOST_UNIT_DB : GAIN_UNIT_DB;
  else if (v->kind == CW_VAR_SECTION_Q && v->value > 0)
    unit = Q_UNIT;
  if (isinf(unit))
    return *slope = *bend = 0;
  *slope = v->value / (unit * unit);
  *bend = 1 / (unit * unit);
  return v->value * v->value / (unit * unit);
}

static double total_preference(const CwFitVars *vars)
{
  double sum = 0, slope, bend;
  for (size_t i = 0; i < vars->count; i++)
    sum += preference(&vars->var[i], &slope, &bend);
  return sum;
}

CwFitResult cw_fit_evaluate(const CwFitProblem *problem, const CwFitState *state)
{
  CwFitVars vars = cw_fit_vars_read(problem, state);
  CwFitRows *rows = cw_fit_rows_new(problem, state, 0);
  CwFitResult result;

  cw_fit_rows_compute(rows, problem, state, NULL);
  result = rows->result;
  result.cost += total_preference(&vars);
  cw_fit_rows_free(rows);
  cw_fit_vars_clear(&vars);
  return result;
}

/* A lift that wandered into a hole is taken back, a cut that became a narrow lift widened. */
static void keep_lifts_in_bounds(const CwFitProblem *problem, const CwFitState *state, CwFitVars *vars)
{
  for (size_t i = 0; i < vars->count; i++) {
    CwFitVar *gain = &vars->var[i], *hz = i > 0 ? &vars->var[i - 1] : NULL,
             *q = i + 1 < vars->count ? &vars->var[i + 1] : NULL;
    if (gain->kind != CW_VAR_SECTION_GAIN || gain->value <= 0)
      continue;
    const CwSection *s = &state->setting[gain->output].section[gain->section];
    bool hz_moves = hz && hz->kind == CW_VAR_SECTION_HZ, q_moves = q && q->kind == CW_VAR_SECTION_Q;
    double most = log(cw_fit_q_most(problem, gain->value));
    if (cw_fit_refuses_boost(problem, gain->output, hz_moves ? exp(hz->value) : s->frequency_hz) ||
        (!q_moves && log(s->q) > most + 1e-9))
      gain->value = fmax(0, gain->least);
    else if (q_moves)
      q->value = fmin(q->value, most);
  }
}

/* Moves variables by a step, within their strides and bounds. */
static void move(const CwFitVars *from, const double *step, CwFitVars *to)
{
  for (size_t i = 0; i < from->count; i++) {
    const CwFitVar *v = &from->var[i];
    to->var[i].value = fmin(fmax(v->value + fmin(fmax(step[i], -v->stride), v->stride), v->least), v->most);
  }
}

static void build(const CwFitRows *rows, const CwFitVars *vars, CwNormalEquations *equations)
{
  cw_normal_equations_clear(equations);
  cw_normal_equations_add_rows(equations, rows->jacobian, rows->residual, rows->count);
  for (size_t i = 0; i < vars->count; i++) {
    double slope, bend;
    const CwFitVar *v = &vars->var[i];
    preference(v, &slope, &bend);
    cw_normal_equations_add_diagonal(equations, i, bend, slope);
    bool held = (v->value <= v->least && equations->gradient[i] > 0) ||
                (v->value >= v->most && equations->gradient[i] < 0);
    equations->held[i] = held;
  }
}

typedef struct {
  const CwFitProblem *problem;
  CwFitState *state, *moved;
  CwFitVars vars, tried;
  CwFitRows *rows, *other;
  CwFitResult best; /* of state */
} FitSearch;

static double linearise(void *data, CwNormalEquations *equations)
{
  FitSearch *search = data;

  cw_fit_rows_compute(search->rows, search->problem, search->state, &search->vars);
  build(search->rows, &search->vars, equations);
  search->best = search->rows->result;
  search->best.cost += total_preference(&search->vars);
  return search->best.cost;
}

static double propose(void *data, const double *step)
{
  FitSearch *search = data;

  move(&search->vars, step, &search->tried);
  keep_lifts_in_bounds(search->problem, search->state, &search->tried);
  cw_fit_vars_write(&search->tried, search->moved);
  cw_fit_rows_compute(search->other, search->problem, search->moved, NULL);
  return search->other->result.cost + total_preference(&search->tried);
}

static void accept(void *data)
{
  FitSearch *search = data;

  search->best = search->other->result;
  search->best.cost += total_preference(&search->tried);
  memcpy(search->vars.var, search->tried.var, search->vars.count * sizeof *search->vars.var);
  cw_fit_vars_write(&search->vars, search->state);
}

static bool is_cancelled(void *data)
{
  FitSearch *search = data;
  return search->problem->cancelled && search->problem->cancelled(search->problem->cancel_data);
}

CwFitResult cw_fit_run(const CwFitProblem *problem, CwFitState *state, int rounds, double gain)
{
  FitSearch search = {.problem = problem,
                      .state = state,
                      .moved = cw_fit_state_copy(state),
                      .vars = cw_fit_vars_read(problem, state),
                      .tried = cw_fit_vars_read(problem, state)};

  search.rows = cw_fit_rows_new(problem, state, search.vars.count);
  search.other = cw_fit_rows_new(problem, state, 0);
  cw_least_squares_run(&(CwLeastSquares){.variables = search.vars.count,
                                         .rounds = rounds > 1 ? rounds : 1,
                                         .attempts = rounds > 0 ? 6 : 0,
                                         .damping = 1e-2,
                                         .damping_least = 1e-6,
                                         .ease = 3,
                                         .raise = 4,
                                         .least_gain = gain,
                                         .data = &search,
                                         .linearise = linearise,
                                         .propose = propose,
                                         .accept = accept,
                                         .cancelled = is_cancelled});
  cw_fit_rows_free(search.rows);
  cw_fit_rows_free(search.other);
  cw_fit_state_free(search.moved);
  cw_fit_vars_clear(&search.vars);
  cw_fit_vars_clear(&search.tried);
  return search.best;
}

bool cw_fit_worth(const CwFitProblem *problem, const CwFitState *state, double *rise)
{
  CwFitVars vars = cw_fit_vars_read(problem, state);
  CwFitRows *rows = cw_fit_rows_new(problem, state, vars.count);
  CwNormalEquations *equations = cw_normal_equations_new(vars.count);
  double *inverse = cw_alloc_real(vars.count);

  cw_fit_rows_compute(rows, problem, state, &vars);
  build(rows, &vars, equations);
  bool holds = cw_normal_equations_inverse_diagonal(equations, 1e-4, inverse);
  for (size_t o = 0; o < state->outputs; o++)
    for (size_t k = 0; k < state->setting[o].sections; k++)
      rise[o * CW_SETTING_MOST_SECTIONS + k] = INFINITY;
  for (size_t i = 0; i < vars.count; i++)
    if (vars.var[i].kind == CW_VAR_SECTION_GAIN)
      rise[vars.var[i].output * CW_SETTING_MOST_SECTIONS + vars.var[i].section] =
          inverse[i] > 0 ? vars.var[i].value * vars.var[i].value / inverse[i] : INFINITY;
  cw_free(inverse);
  cw_normal_equations_free(equations);
  cw_fit_rows_free(rows);
  cw_fit_vars_clear(&vars);
  return holds;
}
