/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/section_count.h"
#include "tuning/fit/fit_rows.h"
#include <math.h>
#include <stdint.h>
#include <string.h>

#define STEPS_PER_OCTAVE 4
#define APART_OCTAVES 0.4 /* between two sections added at once */
#define SAME_OCTAVES (1.0 / 5)
#define SAME_WIDTH 0.5     /* of log Q */
#define LEAST_PROMISE 3e-4 /* of the cost, */
#define LEAST_WORTH 2e-3   /* and at all: a hundredth of a decibel or so */

static const double widths[] = {0.8, 1.8, 4};
enum { WIDTHS = sizeof widths / sizeof *widths };

typedef struct {
  size_t output;
  double hz, q, promise;
} Candidate;

/* The span in which an output's sections may help. */
static void span_of(const CwFitProblem *problem, const CwOutputSetting *s, double *low, double *high)
{
  double top = problem->bands->hz[problem->bands->bands - 1];
  *low = fmax(s->high_pass.order ? s->high_pass.corner_hz / 1.5 : 20, problem->bands->hz[0]);
  *high = fmin(s->low_pass.order ? 2 * s->low_pass.corner_hz : top, top);
}

/* Four an octave; on a coarse grid, what it has. */
static double next_centre(const CwLimits *limits, double hz)
{
  double next = hz * exp2(1.0 / STEPS_PER_OCTAVE), per_octave = limits->frequency_steps_per_octave;
  return per_octave > 0 && per_octave < 4 * STEPS_PER_OCTAVE
             ? cw_limits_frequency_above_hz(limits, hz * exp2(0.5 / per_octave))
             : next;
}

static size_t list_candidates(const CwFitProblem *problem, const CwFitState *state, Candidate *list)
{
  size_t count = 0;

  for (size_t o = 0; o < state->outputs; o++) {
    double low, high;
    span_of(problem, &state->setting[o], &low, &high);
    for (double hz = next_centre(&problem->limits, low * exp2(-1.0 / STEPS_PER_OCTAVE)); hz <= high;
         hz = next_centre(&problem->limits, hz))
      for (int w = 0; w < WIDTHS; w++)
        if (widths[w] >= problem->limits.q_least && widths[w] <= problem->limits.q_most)
          list[count++] = (Candidate){o, hz, widths[w], 0};
  }
  return count;
}

/* d log(drive) / d gain of a flat peaking section: the same for all, so in closed form (see fit_model.c). */
static void fill_slope(const CwFitProblem *problem, const Candidate *c, CwComplex *slope)
{
  double rate = problem->limits.rate_hz, scale = 1 / tan(M_PI * c->hz / rate);

  for (size_t b = 0; b < problem->bands->bands; b++) {
    double u = tan(M_PI * problem->bands->hz[b] / rate) * scale, x = 1 - u * u, y = u / c->q;
    slope[b] = M_LN10 / 20 * I * y / (x + I * y);
  }
}

/* How far the cost would fall for the best gain, were the problem linear. */
static void weigh_promises(const CwFitProblem *problem, CwFitState *state, Candidate *list, size_t count,
                           double *cost)
{
  CwFitVars vars = {count, cw_alloc_bytes(count * sizeof *vars.var)};
  CwFitRows *rows = cw_fit_rows_new(problem, state, count);
  double *slope = cw_alloc_real(count), *bend = cw_alloc_real(count);

  for (size_t i = 0; i < count; i++) {
    vars.var[i] =
        (CwFitVar){.kind = CW_VAR_SECTION_GAIN, .output = list[i].output, .section = SIZE_MAX, .mate = -1};
    fill_slope(problem, &list[i], rows->slope + i * problem->bands->bands);
  }
  cw_fit_rows_compute_given(rows, problem, state, &vars);
  *cost = rows->result.cost;
  for (size_t r = 0; r < rows->count; r++)
    for (size_t i = 0; i < count; i++) {
      double j = rows->jacobian[r * count + i];
      slope[i] += j * rows->residual[r];
      bend[i] += j * j;
    }
  for (size_t i = 0; i < count; i++) {
    /* A boost may go less far than a cut, and is worth less. */
    double gain = bend[i] > 0 ? -slope[i] / bend[i] : 0,
           held =
               fmin(fmax(gain, problem->limits.section_gain_least_db), problem->limits.section_gain_most_db);
    if (cw_fit_refuses_boost(problem, list[i].output, list[i].hz))
      held = fmin(held, 0);
    list[i].promise = -(2 * slope[i] * held + bend[i] * held * held) * (held > 0 ? 0.8 : 1);
  }
  cw_free(slope);
  cw_free(bend);
  cw_free(vars.var);
  cw_fit_rows_free(rows);
}

static bool add_best(CwFitState *state, size_t o, Candidate *list, size_t count, double least)
{
  CwOutputSetting *s = &state->setting[o];
  Candidate *best = NULL;

  for (size_t i = 0; i < count; i++)
    if (list[i].output == o && (!best || list[i].promise > best->promise))
      best = &list[i];
  if (!best || best->promise < least)
    return false;
  s->section[s->sections++] = (CwSection){CW_SECTION_PEAKING, best->hz, 0, best->q};
  double hz = best->hz;
  for (size_t i = 0; i < count; i++)
    if (list[i].output == o && fabs(log2(list[i].hz / hz)) < APART_OCTAVES)
      list[i].promise = 0;
  return true;
}

size_t cw_section_count_add(const CwFitProblem *problem, CwFitState *state, size_t most,
                            const double *avoid_hz)
{
  size_t per_output = WIDTHS * (size_t)(4 * STEPS_PER_OCTAVE * 11 + 2), count, added = 0;
  Candidate *list = cw_alloc_bytes(state->outputs * per_output * sizeof *list);
  double cost;

  if (most > CW_SETTING_MOST_SECTIONS)
    most = CW_SETTING_MOST_SECTIONS;
  count = list_candidates(problem, state, list);
  weigh_promises(problem, state, list, count, &cost);
  for (size_t i = 0; avoid_hz && i < count; i++)
    if (avoid_hz[list[i].output] > 0 && fabs(log2(list[i].hz / avoid_hz[list[i].output])) < APART_OCTAVES)
      list[i].promise = 0;
  for (size_t o = 0; o < state->outputs; o++)
    while (state->setting[o].sections < most &&
           add_best(state, o, list, count, fmax(LEAST_PROMISE * cost, LEAST_WORTH)))
      added++;
  cw_free(list);
  return added;
}

void cw_section_count_drop(CwOutputSetting *s, size_t k)
{
  memmove(&s->section[k], &s->section[k + 1], (s->sections - k - 1) * sizeof *s->section);
  s->sections--;
}

static void drop_flat(CwOutputSetting *s, double least_db)
{
  for (size_t i = s->sections; i-- > 0;)
    if (s->section[i].kind == CW_SECTION_PEAKING && fabs(s->section[i].gain_db) < least_db)
      cw_section_count_drop(s, i);
}

/* Whether two sections can be one: near in centre and width, and their gains together still allowed. */
static bool same_thing(const CwFitProblem *problem, const CwSection *a, const CwSection *b)
{
  double together = a->gain_db + b->gain_db;
  return a->kind == CW_SECTION_PEAKING && b->kind == CW_SECTION_PEAKING &&
         fabs(log2(a->frequency_hz / b->frequency_hz)) < SAME_OCTAVES &&
         fabs(log(a->q / b->q)) < SAME_WIDTH && together >= problem->limits.section_gain_least_db &&
         together <= problem->limits.section_gain_most_db;
}

static size_t prune_output(const CwFitProblem *problem, CwOutputSetting *s, double least_db)
{
  size_t before = s->sections;

  for (size_t i = 0; i < s->sections; i++)
    for (size_t k = i + 1; k < s->sections;) {
      if (!same_thing(problem, &s->section[i], &s->section[k])) {
        k++;
        continue;
      }
      s->section[i].gain_db += s->section[k].gain_db;
      s->section[i].frequency_hz = sqrt(s->section[i].frequency_hz * s->section[k].frequency_hz);
      s->section[i].q = sqrt(s->section[i].q * s->section[k].q);
      cw_section_count_drop(s, k);
    }
  drop_flat(s, least_db);
  return before - s->sections;
}

void cw_section_count_drop_flat(CwFitState *state, double least_db)
{
  for (size_t o = 0; o < state->outputs; o++)
    drop_flat(&state->setting[o], least_db);
}

size_t cw_section_count_prune(const CwFitProblem *problem, CwFitState *state, double least_db)
{
  size_t gone = 0;
  for (size_t o = 0; o < state->outputs; o++)
    gone += prune_output(problem, &state->setting[o], least_db);
  return gone;
}

/* The section of rank in the order of worth, the least worth first. */
static size_t of_rank(const double *worth, size_t sections, size_t rank)
{
  for (size_t k = 0; k < sections; k++) {
    size_t below = 0;
    for (size_t m = 0; m < sections; m++)
      below += worth[m] < worth[k] || (worth[m] == worth[k] && m < k);
    if (below == rank)
      return k;
  }
  return 0;
}

size_t cw_section_count_drop_least(const CwFitProblem *problem, CwFitState *state, double least_part,
                                   size_t rank, double *dropped_hz)
{
  double *rise = cw_alloc_real(state->outputs * CW_SETTING_MOST_SECTIONS),
         most = least_part * cw_fit_evaluate(problem, state).cost;
  size_t gone = 0;

  if (cw_fit_worth(problem, state, rise))
    for (size_t o = 0; o < state->outputs; o++) {
      const double *line = rise + o * CW_SETTING_MOST_SECTIONS;
      size_t sections = state->setting[o].sections;
      if (dropped_hz)
        dropped_hz[o] = 0;
      if (sections == 0)
        continue;
      size_t least = of_rank(line, sections, rank % sections);
      if (line[least] > most || state->setting[o].section[least].kind == CW_SECTION_ALL_PASS)
        continue;
      if (dropped_hz)
        dropped_hz[o] = state->setting[o].section[least].frequency_hz;
      cw_section_count_drop(&state->setting[o], least);
      gone++;
    }
  cw_free(rise);
  return gone;
}
