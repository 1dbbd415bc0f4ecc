/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/all_pass.h"
#include "signal/normal_equations.h"
#include "tuning/fit/fit_rows.h"
#include "tuning/proposal/section_count.h"
#include <math.h>
#include <string.h>

#define LOW_HZ 90.0
#define HIGH_HZ 2000.0
#define STEP_OCTAVES 0.5
#define TRIED 3          /* of those that promise most */
#define FIT_ROUNDS 8     /* steps of the fit before it is judged */
#define PAYS 0.03        /* part of the cost that it must save, */
#define PAYS_AT_ALL 0.01 /* and at all */
#define DAMPING 1e-2

static const double widths[] = {0.7, 1.4};
enum { WIDTHS = sizeof widths / sizeof *widths };

typedef struct {
  size_t output;
  double hz, q, cost; /* the cost that the linear model of the fit ends at */
} Candidate;

static bool may_have(const CwFitProblem *problem, const CwFitState *state, size_t o)
{
  const CwCarOutput *output = &problem->car->output[o];

  if ((state->held[o] & CW_FIT_SECTIONS) || output->beside || output->way == CW_WAY_SUB ||
      output->way == CW_WAY_HIGH)
    return false;
  for (size_t k = 0; k < state->setting[o].sections; k++)
    if (state->setting[o].section[k].kind == CW_SECTION_ALL_PASS)
      return false;
  return problem->limits.sections > 0;
}

/* On a coarse grid two centres may be one. */
static size_t add_candidate(Candidate *list, size_t count, size_t output, double hz, double q)
{
  for (size_t i = count; i-- > 0 && list[i].output == output;)
    if (list[i].hz == hz && list[i].q == q)
      return count;
  list[count] = (Candidate){output, hz, q, 0};
  return count + 1;
}

static size_t list_candidates(const CwFitProblem *problem, const CwFitState *state, Candidate *list)
{
  size_t count = 0;

  for (size_t o = 0; o < state->outputs; o++) {
    const CwOutputSetting *s = &state->setting[o];
    double high = s->low_pass.order ? fmin(HIGH_HZ, s->low_pass.corner_hz) : HIGH_HZ,
           low = s->high_pass.order ? fmax(LOW_HZ, s->high_pass.corner_hz) : LOW_HZ;
    for (double hz = low; may_have(problem, state, o) && hz <= high; hz *= exp2(STEP_OCTAVES))
      for (int w = 0; w < WIDTHS; w++)
        if (widths[w] >= problem->limits.q_least && widths[w] <= problem->limits.q_most)
          count = add_candidate(list, count, o, cw_limits_frequency_hz(&problem->limits, hz, 0), widths[w]);
  }
  return count;
}

/* Where the output has all sections that it may have, the weakest makes room. */
static void insert(const CwFitProblem *problem, CwFitState *state, const Candidate *c)
{
  CwOutputSetting *s = &state->setting[c->output];
  size_t weakest = 0;

  for (size_t k = 1; k < s->sections; k++)
    if (fabs(s->section[k].gain_db) < fabs(s->section[weakest].gain_db))
      weakest = k;
  size_t at = s->sections < problem->limits.sections ? s->sections++ : weakest;
  s->section[at] = (CwSection){CW_SECTION_ALL_PASS, c->hz, 0, c->q};
}

/* gradient = J^T r */
static void run_back(const CwFitRows *rows, const double *residual, double *gradient)
{
  memset(gradient, 0, rows->vars * sizeof *gradient);
  for (size_t r = 0; r < rows->count; r++)
    for (size_t v = 0; v < rows->vars; v++)
      gradient[v] += rows->jacobian[r * rows->vars + v] * residual[r];
}

/* What every candidate would end at, were all else fitted again along the slopes that hold now. */
static void weigh(const CwFitProblem *problem, const CwFitState *state, Candidate *list, size_t count)
{
  CwFitVars vars = cw_fit_vars_read(problem, state);
  CwFitRows *rows = cw_fit_rows_new(problem, state, vars.count), *other = cw_fit_rows_new(problem, state, 0);
  CwNormalEquations *equations = cw_normal_equations_new(vars.count);
  CwFitState *tried = cw_fit_state_copy(state);
  double *gradient = cw_alloc_real(count * vars.count), *fall = cw_alloc_real(count);

  cw_fit_rows_compute(rows, problem, state, &vars);
  cw_normal_equations_add_rows(equations, rows->jacobian, rows->residual, rows->count);
  for (size_t i = 0; i < count; i++) {
    insert(problem, tried, &list[i]);
    cw_fit_rows_compute(other, problem, tried, NULL);
    tried->setting[list[i].output] = state->setting[list[i].output];
    list[i].cost = other->result.cost;
    run_back(rows, other->residual, gradient + i * vars.count);
  }
  cw_normal_equations_falls(equations, DAMPING, gradient, count, fall);
  for (size_t i = 0; i < count; i++)
    list[i].cost -= fall[i];
  cw_free(gradient);
  cw_free(fall);
  cw_fit_state_free(tried);
  cw_normal_equations_free(equations);
  cw_fit_rows_free(rows);
  cw_fit_rows_free(other);
  cw_fit_vars_clear(&vars);
}

/* Takes the candidate that promises most out of the list. */
static Candidate take_best(Candidate *list, size_t count)
{
  size_t best = 0;

  for (size_t i = 1; i < count; i++)
    if (list[i].cost < list[best].cost)
      best = i;
  Candidate taken = list[best];
  list[best].cost = INFINITY;
  return taken;
}

bool cw_all_pass_add(const CwFitProblem *problem, CwFitState *state)
{
  size_t per_output = WIDTHS * (size_t)(ceil(log2(HIGH_HZ / LOW_HZ) / STEP_OCTAVES) + 1);
  Candidate *list = cw_alloc_bytes(state->outputs * per_output * sizeof *list);
  size_t count = problem->limits.all_pass ? list_candidates(problem, state, list) : 0;

  if (count == 0) {
    cw_free(list);
    return false;
  }
  CwFitState *best = cw_fit_state_copy(state), *tried = cw_fit_state_copy(state);
  double before = cw_fit_run(problem, best, FIT_ROUNDS, 1e-3).cost,
         least = fmin((1 - PAYS) * before, before - PAYS_AT_ALL);
  bool found = false;
  weigh(problem, state, list, count);
  for (int i = 0; i < TRIED; i++) {
    Candidate c = take_best(list, count);
    if (isinf(c.cost) || (problem->cancelled && problem->cancelled(problem->cancel_data)))
      break;
    cw_fit_state_assign(tried, state);
    insert(problem, tried, &c);
    double cost = cw_fit_run(problem, tried, FIT_ROUNDS, 1e-3).cost;
    if (cost >= least)
      continue;
    least = cost;
    found = true;
    cw_fit_state_assign(best, tried);
  }
  if (found)
    cw_fit_state_assign(state, best);
  cw_fit_state_free(best);
  cw_fit_state_free(tried);
  cw_free(list);
  return found;
}

void cw_all_pass_thin(const CwFitProblem *problem, CwFitState *state)
{
  CwFitState *tried = cw_fit_state_copy(state);
  double cost = cw_fit_run(problem, state, FIT_ROUNDS, 1e-3).cost;

  for (size_t o = 0; o < state->outputs; o++)
    for (size_t k = state->setting[o].sections; k-- > 0;) {
      if (state->setting[o].section[k].kind != CW_SECTION_ALL_PASS)
        continue;
      cw_fit_state_assign(tried, state);
      cw_section_count_drop(&tried->setting[o], k);
      double without = cw_fit_run(problem, tried, FIT_ROUNDS, 1e-3).cost;
      if (without > cost / (1 - PAYS) && without > cost + PAYS_AT_ALL)
        continue;
      cost = without;
      cw_fit_state_assign(state, tried);
    }
  cw_fit_state_free(tried);
}
