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
#define LEAST_GAIN 1e-5 /* part of the cost: less may be the rounding of another order of the same car */
#define THIN_ROUNDS 4
#define BATCH_PART 2 /* first a tenth of all sections at once, then one by one */

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
  static const CwWay ways[] = {CW_WAY_MID, CW_WAY_HIGH, CW_WAY_LOW};
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

/* How far one result lies behind another: the worst of what a person would compare. */
static double behind_db(const CwFitResult *now, const CwFitResult *best)
{
  return fmax(fmax(now->side_db - best->side_db, now->both_db - best->both_db),
              now->match_db - best->match_db);
}

double cw_search_thin(const CwFitProblem *problem, CwFitState *state, double slack_db, size_t most)
{
  CwFitResult best = cw_fit_evaluate(problem, state), now = best;
  CwFitState *tried = cw_fit_state_copy(state);
  double one_more_db = 0;

  for (size_t batch = BATCH_PART; batch > 0 && !is_cancelled(problem);) {
    size_t total = cw_section_count_total(state), many = batch > 1 ? total / 10 : 1;
    cw_fit_state_assign(tried, state);
    if (cw_section_count_drop_cheapest(problem, tried, many > 0 ? many : 1) == 0)
      break;
    CwFitResult result = cw_fit_run(problem, tried, THIN_ROUNDS, 2e-3);
    if (behind_db(&result, &best) > slack_db && total <= most) {
      one_more_db = behind_db(&result, &now);
      batch = batch > 1 ? 1 : 0;
      continue;
    }
    now = result;
    cw_fit_state_assign(state, tried);
  }
  cw_fit_state_free(tried);
  return fmax(one_more_db, 0);
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

/* How the number of sections an output grows, and in which tenth of the rounds. */
typedef struct {
  size_t sections;
  int until; /* tenths of all rounds */
} Stage;

static void run_stages(const CwFitProblem *problem, CwFitState *state, const Stage *stage, size_t stages,
                       void (*progress)(double part, void *data), void *data)
{
  CwFitProblem loose = *problem; /* the search may pass through narrow lifts, no more */
  Search search = {&loose, cw_fit_state_copy(state), cw_fit_state_copy(state), 0, 0, 0};
  int rounds = rounds_of(state), round = 0;

  loose.lift_q_most = 0;
  for (size_t k = 0; k < stages && !is_cancelled(problem); k++) {
    bool last = k + 1 == stages || problem->limits.sections <= stage[k].sections;
    loose.limits.sections = last ? problem->limits.sections : stage[k].sections;
    grow(&search);
    if (k == 0)
      add_all_passes(&search);
    for (; round < (last ? rounds : rounds * stage[k].until / 10) && !is_cancelled(problem) &&
           problem->limits.sections > 0;
         round++) {
      if (progress)
        progress((double)(round + 2) / (rounds + 4), data);
      exchange(&search, round);
    }
    cw_fit_state_assign(search.state, search.best);
    search.cost = search.best_cost;
    if (last)
      break;
  }
  cw_fit_state_assign(state, search.best);
  cw_fit_state_free(search.best);
  cw_fit_state_free(search.state);
  calm_lifts(problem, state);
  cw_all_pass_thin(problem, state);
  cw_fit_run(problem, state, 12, 5e-4);
}

CwFitResult cw_search_run(const CwFitProblem *problem, CwFitState *state, bool by_and_by,
                          void (*progress)(double part, void *data), void *data)
{
  static const Stage at_once[] = {{CW_SETTING_MOST_SECTIONS, 10}},
                     stages[] = {{3, 5}, {CW_SETTING_MOST_SECTIONS, 10}};

  if (by_and_by)
    run_stages(problem, state, stages, 2, progress, data);
  else
    run_stages(problem, state, at_once, 1, progress, data);
  return cw_fit_evaluate(problem, state);
}
