/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/tidy.h"
#include "tuning/fit/fit_model.h"
#include "tuning/proposal/section_count.h"
#include <math.h>

#define LEAST_DB 0.7 /* less is not heard, and lost in the processor's steps */
#define NEAR_OCTAVES 0.34
#define BOUND_ROOM_DB 0.05
#define PROTECTED_DB (CW_SETTING_LEAST_FALL_DB + 0.3)
#define LOW_BOOSTS 1.6 /* times the lowest safe frequency: boosts below reach what protects the speaker */
#define CORNER_STEP 1.03
#define PASSES 8

static bool may_change(const CwFitState *state, size_t o, size_t k)
{
  return k >= state->fixed[o] && state->setting[o].section[k].kind != CW_SECTION_ALL_PASS;
}

static bool drop_idle(CwFitState *state, size_t o)
{
  CwOutputSetting *s = &state->setting[o];
  size_t before = s->sections;

  for (size_t k = s->sections; k-- > 0;)
    if (may_change(state, o, k) && cw_section_kind_has_gain(s->section[k].kind) &&
        fabs(s->section[k].gain_db) < LEAST_DB)
      cw_section_count_drop(s, k);
  return s->sections < before;
}

static double within(double value, double least, double most)
{
  return fmin(fmax(value, least), most);
}

/* Of two that are too near the greater stays, and takes what the other did on its side. */
static bool part_neighbours(const CwFitProblem *problem, CwFitState *state, size_t o)
{
  CwOutputSetting *s = &state->setting[o];

  for (size_t i = 0; i < s->sections; i++)
    for (size_t k = i + 1; k < s->sections; k++) {
      CwSection *a = &s->section[i], *b = &s->section[k];
      if (a->kind == CW_SECTION_ALL_PASS || !may_change(state, o, k) ||
          fabs(log2(a->frequency_hz / b->frequency_hz)) >= NEAR_OCTAVES)
        continue;
      bool first_goes = may_change(state, o, i) && fabs(a->gain_db) < fabs(b->gain_db);
      CwSection *stays = first_goes ? b : a, *goes = first_goes ? a : b;
      if (may_change(state, o, (size_t)(stays - s->section)))
        stays->gain_db = cw_limits_section_gain_db(&problem->limits, stays->gain_db + 0.5 * goes->gain_db, 0);
      cw_section_count_drop(s, (size_t)(goes - s->section));
      return true;
    }
  return false;
}

static bool bring_inside(const CwFitProblem *problem, CwFitState *state, size_t o, bool on_steps)
{
  CwOutputSetting *s = &state->setting[o];
  double low, high;
  bool changed = false;

  cw_fit_span(problem, s, &low, &high);
  for (size_t k = 0; k < s->sections; k++) {
    double hz = s->section[k].frequency_hz, to = within(hz, low, high);
    if (!may_change(state, o, k) || fabs(log2(to / hz)) < (on_steps ? 0.2 : 1e-6))
      continue;
    s->section[k].frequency_hz = on_steps ? cw_limits_frequency_hz(&problem->limits, to, 0) : to;
    changed = true;
  }
  return changed;
}

/* The largest excess of an output's sections together over what they may boost, and below what they may cut,
 * dB. */
static void excess_of(const CwFitProblem *problem, const CwOutputSetting *s, size_t o, double *boost,
                      double *cut)
{
  size_t bands = problem->bands->bands;

  double *db = cw_alloc_real(bands);

  *boost = *cut = 0;
  cw_fit_sections_db(problem, s, 1, db);
  for (size_t b = 0; b < bands; b++) {
    double most =
        problem->boost_most_db ? problem->boost_most_db[o * bands + b] : problem->limits.section_gain_most_db;
    *boost = fmax(*boost, db[b] - most);
    *cut = fmax(*cut, problem->limits.section_gain_least_db - db[b]);
  }
  cw_free(db);
}

/* Gains of one sign are scaled down until their sum keeps the bound. */
static bool keep_bounds(const CwFitProblem *problem, CwFitState *state, size_t o, bool on_steps)
{
  CwOutputSetting *s = &state->setting[o];
  bool changed = false;

  for (int round = 0; round < 150; round++) {
    double boost, cut;
    excess_of(problem, s, o, &boost, &cut);
    if (boost <= BOUND_ROOM_DB && cut <= BOUND_ROOM_DB)
      break;
    bool moved = false;
    for (size_t k = 0; k < s->sections; k++) {
      double *db = &s->section[k].gain_db, before = *db;
      if (!may_change(state, o, k) || (boost > BOUND_ROOM_DB ? *db <= 0 : *db >= 0))
        continue;
      *db *= 0.97;
      if (on_steps) {
        *db = cw_limits_section_gain_db(&problem->limits, *db, 0);
        if (*db == before)
          *db = cw_limits_section_gain_db(&problem->limits, *db, before > 0 ? -1 : 1);
      }
      moved |= *db != before;
    }
    if (!moved)
      break;
    changed = true;
  }
  return changed;
}

static void raise_corner(const CwFitProblem *problem, CwFitState *state, size_t o, bool on_steps)
{
  int mate = problem->car->output[o].mate;
  double hz = CORNER_STEP * state->setting[o].high_pass.corner_hz;

  if (on_steps)
    hz = cw_limits_frequency_above_hz(&problem->limits, hz);
  state->setting[o].high_pass.corner_hz = hz;
  state->corner_least_hz[2 * o] = fmax(state->corner_least_hz[2 * o], hz);
  state->corner_most_hz[2 * o] = fmax(state->corner_most_hz[2 * o], hz);
  if (mate >= 0 && !(state->held[mate] & (CW_FIT_CORNER | CW_FIT_HIGH_PASS))) {
    state->setting[mate].high_pass.corner_hz = hz;
    state->corner_least_hz[2 * (size_t)mate] = fmax(state->corner_least_hz[2 * (size_t)mate], hz);
    state->corner_most_hz[2 * (size_t)mate] = fmax(state->corner_most_hz[2 * (size_t)mate], hz);
  }
}

/* First the boosts near the corner go, then the corner rises. */
static bool protect(const CwFitProblem *problem, CwFitState *state, size_t o, bool on_steps)
{
  CwOutputSetting *s = &state->setting[o];
  double lowest_hz = problem->car->output[o].lowest_hz;
  bool changed = false;

  for (int round = 0; round < 40 && lowest_hz > 0; round++) {
    if (cw_setting_fall_db(s, problem->limits.rate_hz, lowest_hz) >= PROTECTED_DB)
      break;
    size_t boost = s->sections;
    for (size_t k = 0; k < s->sections; k++)
      if (may_change(state, o, k) && s->section[k].gain_db > 0 &&
          s->section[k].frequency_hz < LOW_BOOSTS * lowest_hz)
        boost = k;
    if (boost < s->sections)
      cw_section_count_drop(s, boost);
    else if (s->high_pass.order > 0 && !(state->held[o] & (CW_FIT_CORNER | CW_FIT_HIGH_PASS)))
      raise_corner(problem, state, o, on_steps);
    else
      break;
    changed = true;
  }
  return changed;
}

bool cw_tidy(const CwFitProblem *problem, CwFitState *state, bool on_steps)
{
  bool changed = false;

  for (size_t o = 0; o < state->outputs; o++) {
    if (state->held[o] == CW_FIT_ALL)
      continue;
    changed |= bring_inside(problem, state, o, on_steps);
    while (part_neighbours(problem, state, o))
      changed = true;
    changed |= protect(problem, state, o, on_steps);
    changed |= keep_bounds(problem, state, o, on_steps);
    changed |= drop_idle(state, o);
  }
  return changed;
}

void cw_tidy_and_fit(const CwFitProblem *problem, CwFitState *state)
{
  CwFitProblem held = *problem;

  for (int pass = 0; pass < PASSES && cw_tidy(problem, state, false); pass++) {
    if (problem->cancelled && problem->cancelled(problem->cancel_data))
      return;
    cw_fit_run(&held, state, 6, 2e-3);
    held.held |= pass >= PASSES / 2 ? CW_FIT_SECTION_HZ | CW_FIT_CORNER : 0;
  }
  cw_tidy(problem, state, false);
}
