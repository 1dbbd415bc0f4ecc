/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/search.h"
#include "tuning/proposal/all_pass.h"
#include "tuning/proposal/first_state.h"
#include "tuning/proposal/section_count.h"
#include <math.h>

#define ROUNDS_LEAST 14
#define ROUNDS_MOST 24
#define ROUNDS_OF_OUTPUTS 100 /* a round of many outputs takes long: few outputs get more of them */
#define SLOPE_EVERY 3         /* rounds: another slope is tried in every third */
#define ALL_PASSES 2          /* added at most, in the whole car */
#define PRUNE_DB 0.5
#define FORCED_PART INFINITY
#define IDLE_PART 1e-3  /* a section worth less than this part of the cost is left out in the end, */
#define LEAST_GAIN 1e-5 /* part of the cost: less may be the rounding of another order of the same car */
#define THINNED 1.01    /* as long as all of them together cost no more than this */

typedef struct {
  const CwFitProblem *problem;
  CwFitState *state, *best; /* where the search stands, and the best that it saw */
  double cost, best_cost;
  size_t failures; /* exchanges in a row that did not pay */
} Search;

static bool is_cancelled(const CwFitProblem *problem)
{
  return problem->cancelled && problem->cancelled(problem->cancel_data);
}

/* Sections are added two at a time to each output where they promise most, and all is fitted again before the
 * next. */
static void grow(Search *search)
{
  const CwFitProblem *problem = search->problem;

  cw_fit_run(problem, search->state, 8, 1e-3);
  for (size_t count = 2; count < problem->limits.sections + 2; count += 2) {
    if (cw_section_count_add(problem, search->state,
                             count < problem->limits.sections ? count : problem->limits.sections, NULL) == 0)
      break;
    cw_fit_run(problem, search->state, 6, 2e-3);
  }
  search->cost = search->best_cost = cw_fit_evaluate(problem, search->state).cost;
  cw_fit_state_assign(search->best, search->state);
}

/* round -1: without slopes. Sections that turned out to do next to nothing make room for others; where there
 * are none, the one that is worth least. Now and then another slope is tried too. What does not pay is left
 * again. */
static void exchange(Search *search, int round)
{
  static const CwCarWay ways[] = {CW_CAR_MID, CW_CAR_HIGH, CW_CAR_LOW};
  const CwFitProblem *problem = search->problem;
  CwFitState *before = cw_fit_state_copy(search->state);
  bool slope = round >= 0 && round % SLOPE_EVERY == SLOPE_EVERY - 1 &&
               cw_first_state_other_slope(problem, search->state, ways[round / SLOPE_EVERY % 3]);

  double *dropped_hz = cw_alloc_real(before->outputs);
  size_t gone = cw_section_count_prune(problem, search->state, PRUNE_DB);
  bool forced =
      !slope && gone == 0 &&
      cw_section_count_drop_least(problem, search->state, FORCED_PART, search->failures, dropped_hz) > 0;
  cw_section_count_add(problem, search->state, problem->limits.sections, forced ? dropped_hz : NULL);
  cw_free(dropped_hz);
  double cost = cw_fit_run(problem, search->state, 8, 2e-3).cost;
  bool better = cost < (1 - LEAST_GAIN) * search->cost;
  if ((slope || forced) && !better)
    cw_fit_state_assign(search->state, before);
  else
    search->cost = cost;
  if (forced)
    search->failures = better ? 0 : search->failures + 1;
  if (search->cost < (1 - LEAST_GAIN) * search->best_cost) {
    search->best_cost = search->cost;
    cw_fit_state_assign(search->best, search->state);
  }
  cw_fit_state_free(before);
}

/* Leaves out what hardly pays, one an output at a time. */
static CwFitResult thin_out(const CwFitProblem *problem, CwFitState *state)
{
  CwFitResult best = cw_fit_run(problem, state, 20, 2e-4);
  double most = THINNED * best.cost;
  CwFitState *tried = cw_fit_state_copy(state);

  if (cw_section_count_prune(problem, tried, 0) > 0) { /* two that do the same thing */
    CwFitResult result = cw_fit_run(problem, tried, 8, 1e-3);
    if (result.cost <= most) {
      best = result;
      cw_fit_state_assign(state, tried);
    } else {
      cw_fit_state_assign(tried, state);
    }
  }
  while (!is_cancelled(problem) && cw_section_count_drop_least(problem, tried, IDLE_PART, 0, NULL) > 0) {
    CwFitResult result = cw_fit_run(problem, tried, 8, 1e-3);
    if (result.cost > most)
      break;
    best = result;
    cw_fit_state_assign(state, tried);
  }
  cw_fit_state_free(tried);
  return best;
}

CwFitResult cw_search_exchange(const CwFitProblem *problem, CwFitState *state, int rounds)
{
  double cost = cw_fit_evaluate(problem, state).cost;
  Search search = {problem, cw_fit_state_copy(state), cw_fit_state_copy(state), cost, cost, 0};

  for (int round = 0; round < rounds && !is_cancelled(problem); round++)
    exchange(&search, -1);
  cw_fit_state_assign(state, search.best);
  cw_fit_state_free(search.best);
  cw_fit_state_free(search.state);
  return cw_fit_evaluate(problem, state);
}

static void calm_lifts(const CwFitProblem *problem, CwFitState *state)
{
  for (size_t o = 0; o < state->outputs; o++)
    for (size_t k = 0; k < state->setting[o].sections; k++) {
      CwSection *s = &state->setting[o].section[k];
      s->q = fmin(s->q, cw_fit_q_most(problem, s->gain_db));
    }
}

static void add_all_passes(Search *search)
{
  for (int i = 0; i < ALL_PASSES && !is_cancelled(search->problem); i++)
    if (!cw_all_pass_add(search->problem, search->state))
      break;
  search->cost = search->best_cost = cw_fit_evaluate(search->problem, search->state).cost;
  cw_fit_state_assign(search->best, search->state);
}

static int rounds_of(const CwFitState *state)
{
  int rounds = ROUNDS_OF_OUTPUTS / (int)state->outputs;
  return rounds < ROUNDS_LEAST ? ROUNDS_LEAST : rounds > ROUNDS_MOST ? ROUNDS_MOST : rounds;
}

CwFitResult cw_search_run(const CwFitProblem *problem, CwFitState *state,
                          void (*progress)(double part, void *data), void *data)
{
  CwFitProblem loose = *problem; /* the search may pass through narrow lifts, no more */
  Search search = {&loose, cw_fit_state_copy(state), cw_fit_state_copy(state), 0, 0, 0};
  int rounds = rounds_of(state);

  loose.lift_q_most = 0;
  grow(&search);
  add_all_passes(&search);
  for (int round = 0; round < rounds && !is_cancelled(problem) && problem->limits.sections > 0; round++) {
    if (progress)
      progress((double)(round + 2) / (rounds + 4), data);
    exchange(&search, round);
  }
  cw_fit_state_assign(state, search.best);
  cw_fit_state_free(search.best);
  cw_fit_state_free(search.state);
  calm_lifts(problem, state);
  cw_all_pass_thin(problem, state);
  return thin_out(problem, state);
}
