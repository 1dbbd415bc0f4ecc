/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/processor_steps.h"
#include "tuning/proposal/search.h"
#include <math.h>

#define PASSES 3
#define EXCHANGES 8
#define COARSE_PER_OCTAVE                                                                                    \
  60 /* finer grids than these cost nothing that one could hear, or a search could mend */
#define COARSE_DB 0.2
#define COARSE_Q 0.1

static void snap_corner(const CwFitProblem *problem, double least_hz, CwCrossoverSetting *pass)
{
  if (pass->order == 0)
    return;
  pass->corner_hz = cw_limits_frequency_hz(&problem->limits, pass->corner_hz, 0);
  if (pass->corner_hz < least_hz * (1 - 1e-9))
    pass->corner_hz = cw_limits_frequency_above_hz(&problem->limits, least_hz);
}

static void snap_frequencies(const CwFitProblem *problem, CwFitState *state)
{
  for (size_t o = 0; o < state->outputs; o++) {
    CwOutputSetting *s = &state->setting[o];
    if (!(state->held[o] & (CW_FIT_CORNER | CW_FIT_HIGH_PASS)))
      snap_corner(problem, state->corner_least_hz[2 * o], &s->high_pass);
    if (!(state->held[o] & (CW_FIT_CORNER | CW_FIT_LOW_PASS)))
      snap_corner(problem, state->corner_least_hz[2 * o + 1], &s->low_pass);
    for (size_t k = state->fixed[o]; k < s->sections; k++)
      s->section[k].frequency_hz = cw_limits_frequency_hz(&problem->limits, s->section[k].frequency_hz, 0);
  }
}

static void snap_q(const CwFitProblem *problem, CwFitState *state)
{
  for (size_t o = 0; o < state->outputs; o++)
    for (size_t k = state->fixed[o]; k < state->setting[o].sections; k++)
      state->setting[o].section[k].q = cw_limits_q(&problem->limits, state->setting[o].section[k].q, 0);
}

static void snap_section_gains(const CwFitProblem *problem, CwFitState *state)
{
  for (size_t o = 0; o < state->outputs; o++)
    for (size_t k = state->fixed[o]; k < state->setting[o].sections; k++)
      state->setting[o].section[k].gain_db =
          cw_limits_section_gain_db(&problem->limits, state->setting[o].section[k].gain_db, 0);
}

/* One of a section's three settings, moved by steps. */
static CwSection moved(const CwFitProblem *problem, const CwFitState *state, size_t output, size_t k,
                       int which, int steps)
{
  const CwSection *from = &state->setting[output].section[k];
  CwSection s = *from;
  double low, high;

  cw_fit_room(problem, state, output, k, &low, &high);
  if (which == 1 && s.kind == CW_SECTION_ALL_PASS)
    return *from;
  if (which == 0)
    s.frequency_hz = cw_limits_frequency_hz(&problem->limits, s.frequency_hz, steps);
  else if (which == 1)
    s.gain_db = cw_limits_section_gain_db(&problem->limits, s.gain_db, steps);
  else
    s.q = cw_limits_q(&problem->limits, s.q, steps);
  if (s.q > cw_fit_q_most(problem, s.gain_db))
    return *from;
  if (s.frequency_hz < low * (1 - 1e-9) || s.frequency_hz > high * (1 + 1e-9))
    return *from;
  if (s.gain_db > 0 && cw_fit_refuses_boost(problem, output, s.frequency_hz))
    return *from;
  return s;
}

static bool try_steps(const CwFitProblem *problem, CwFitState *state, size_t o, size_t k, CwFitResult *best)
{
  const CwLimits *limits = &problem->limits;
  double step[3] = {limits->frequency_steps_per_octave, limits->gain_step_db, limits->q_step};
  CwSection *section = &state->setting[o].section[k];
  bool better = false;

  for (int which = 0; which < 3; which++)
    for (int steps = -1; step[which] > 0 && steps <= 1; steps += 2) {
      CwSection before = *section;
      *section = moved(problem, state, o, k, which, steps);
      CwFitResult result = cw_fit_evaluate(problem, state);
      if (result.cost < best->cost) {
        *best = result;
        better = true;
      } else {
        *section = before;
      }
    }
  return better;
}

bool cw_processor_steps_is_coarse(const CwLimits *limits)
{
  return (limits->frequency_steps_per_octave > 0 && limits->frequency_steps_per_octave < COARSE_PER_OCTAVE) ||
         limits->gain_step_db > COARSE_DB || limits->q_step > COARSE_Q;
}

static CwFitResult fit_holding(const CwFitProblem *problem, CwFitState *state, unsigned held)
{
  CwFitProblem part = *problem;
  part.held |= held;
  return cw_fit_run(&part, state, 10, 1e-3);
}

/* Where a coarse grid has moved centres far, other sections may serve better. */
static void search_holding(const CwFitProblem *problem, CwFitState *state, unsigned held)
{
  CwFitProblem part = *problem;
  part.held |= held;
  cw_search_exchange(&part, state, EXCHANGES);
  fit_holding(problem, state, held);
}

CwFitResult cw_processor_steps_filters(const CwFitProblem *problem, CwFitState *state)
{
  const CwLimits *limits = &problem->limits;
  bool better = true;

  if (limits->frequency_steps_per_octave > 0) {
    snap_frequencies(problem, state);
    fit_holding(problem, state, CW_FIT_SECTION_HZ | CW_FIT_CORNER);
    if (cw_processor_steps_is_coarse(limits))
      search_holding(problem, state, CW_FIT_SECTION_HZ | CW_FIT_CORNER);
  }
  snap_q(problem, state);
  if (limits->q_step > 0)
    fit_holding(problem, state, CW_FIT_SECTION_HZ | CW_FIT_CORNER | CW_FIT_SECTION_Q);
  snap_section_gains(problem, state);
  if (limits->gain_step_db > COARSE_DB)
    fit_holding(problem, state, CW_FIT_SECTION_HZ | CW_FIT_CORNER | CW_FIT_SECTION_Q | CW_FIT_SECTION_GAIN);
  CwFitResult best = cw_fit_evaluate(problem, state);
  for (int pass = 0; cw_processor_steps_is_coarse(limits) && better && pass < PASSES; pass++) {
    better = false;
    for (size_t o = 0; o < state->outputs; o++)
      for (size_t k = state->fixed[o]; k < state->setting[o].sections; k++)
        if (!problem->cancelled || !problem->cancelled(problem->cancel_data))
          better |= try_steps(problem, state, o, k, &best);
  }
  return best;
}
