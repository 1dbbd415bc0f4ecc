/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/section_count.h"
#include "tuning/fit/fit_rows.h"
#include <math.h>
#include <stdint.h>
#include <string.h>

#define STEPS_PER_OCTAVE 4
#define SAME_OCTAVES (1.0 / 5)
#define SAME_WIDTH 0.5     /* of log Q */
#define LEAST_PROMISE 3e-4 /* of the cost, */
#define LEAST_WORTH 2e-3   /* and at all: a hundredth of a decibel or so */

/* What a section may begin as. A shelf tilts a whole end of a band, for which several peaking sections would
 * be used up. */
static const struct {
  CwSectionKind kind;
  double q;
} shapes[] = {{CW_SECTION_PEAKING, 0.8},
              {CW_SECTION_PEAKING, 1.8},
              {CW_SECTION_PEAKING, 4},
              {CW_SECTION_LOW_SHELF, 0.7},
              {CW_SECTION_HIGH_SHELF, 0.7}};
enum { SHAPES = sizeof shapes / sizeof *shapes };

typedef struct {
  size_t output;
  CwSectionKind kind;
  double hz, q, promise;
} Candidate;

static bool is_peaking(CwSectionKind kind)
{
  return kind == CW_SECTION_PEAKING;
}

static bool has_shelf(const CwOutputSetting *s, CwSectionKind kind)
{
  for (size_t k = 0; k < s->sections; k++)
    if (s->section[k].kind == kind)
      return true;
  return false;
}

/* Whether a section may begin there: the processor has it, and no other of the output stands near. */
static bool may_begin(const CwFitProblem *problem, const CwOutputSetting *s, CwSectionKind kind, double hz,
                      double q)
{
  if (q < problem->limits.q_least || q > cw_fit_q_most(problem, -1) ||
      (!is_peaking(kind) && (!problem->limits.shelves || has_shelf(s, kind))))
    return false;
  for (size_t k = 0; k < s->sections; k++)
    if (s->section[k].kind != CW_SECTION_ALL_PASS &&
        fabs(log2(s->section[k].frequency_hz / hz)) < CW_FIT_APART_OCTAVES)
      return false;
  return true;
}

/* The span in which an output's sections may help. */
static void span_of(const CwFitProblem *problem, const CwOutputSetting *s, double *low, double *high)
{
  cw_fit_span(problem, s, low, high);
  *low = fmax(*low, problem->bands->hz[0]);
  *high = fmin(*high, problem->bands->hz[problem->bands->bands - 1]);
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
    if (state->held[o] & CW_FIT_SECTIONS)
      continue;
    span_of(problem, &state->setting[o], &low, &high);
    for (double hz = next_centre(&problem->limits, low * exp2(-1.0 / STEPS_PER_OCTAVE)); hz <= high;
         hz = next_centre(&problem->limits, hz))
      for (int w = 0; w < SHAPES; w++)
        if (may_begin(problem, &state->setting[o], shapes[w].kind, hz, shapes[w].q))
          list[count++] = (Candidate){o, shapes[w].kind, hz, shapes[w].q, 0};
  }
  return count;
}

/* d log(drive) / d gain of a section that is still flat, in closed form (see fit_drives.c). */
static void fill_slope(const CwFitProblem *problem, const Candidate *c, CwComplex *slope)
{
  double rate = problem->limits.rate_hz, scale = 1 / tan(M_PI * c->hz / rate);

  for (size_t b = 0; b < problem->bands->bands; b++) {
    double u = tan(M_PI * problem->bands->hz[b] / rate) * scale, x = 1 - u * u, y = u / c->q;
    CwComplex under = x + I * y;
    if (is_peaking(c->kind))
      slope[b] = M_LN10 / 20 * I * y / under;
    else
      slope[b] = M_LN10 / 40 * (1 + (c->kind == CW_SECTION_LOW_SHELF ? 1 : -1) * (1 + u * u) / under);
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
  s->section[s->sections++] = (CwSection){best->kind, best->hz, 0, best->q};
  Candidate taken = *best;
  for (size_t i = 0; i < count; i++)
    if (list[i].output == o && (fabs(log2(list[i].hz / taken.hz)) < CW_FIT_APART_OCTAVES ||
                                (!is_peaking(taken.kind) && list[i].kind == taken.kind)))
      list[i].promise = 0;
  return true;
}

size_t cw_section_count_add(const CwFitProblem *problem, CwFitState *state, size_t most,
                            const double *avoid_hz)
{
  size_t per_output = SHAPES * (size_t)(4 * STEPS_PER_OCTAVE * 11 + 2), count, added = 0;
  Candidate *list = cw_alloc_bytes(state->outputs * per_output * sizeof *list);
  double cost;

  if (most > CW_SETTING_MOST_SECTIONS)
    most = CW_SETTING_MOST_SECTIONS;
  count = list_candidates(problem, state, list);
  weigh_promises(problem, state, list, count, &cost);
  for (size_t i = 0; avoid_hz && i < count; i++)
    if (avoid_hz[list[i].output] > 0 &&
        fabs(log2(list[i].hz / avoid_hz[list[i].output])) < CW_FIT_APART_OCTAVES)
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

static void drop_flat(CwOutputSetting *s, size_t fixed, double least_db)
{
  for (size_t i = s->sections; i-- > fixed;)
    if (cw_section_kind_has_gain(s->section[i].kind) && fabs(s->section[i].gain_db) < least_db)
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

static size_t prune_output(const CwFitProblem *problem, CwOutputSetting *s, size_t fixed, double least_db)
{
  size_t before = s->sections;

  for (size_t i = fixed; i < s->sections; i++)
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
  drop_flat(s, fixed, least_db);
  return before - s->sections;
}

void cw_section_count_drop_flat(CwFitState *state, double least_db)
{
  for (size_t o = 0; o < state->outputs; o++)
    drop_flat(&state->setting[o], state->fixed[o], least_db);
}

size_t cw_section_count_prune(const CwFitProblem *problem, CwFitState *state, double least_db)
{
  size_t gone = 0;
  for (size_t o = 0; o < state->outputs; o++)
    gone += prune_output(problem, &state->setting[o], state->fixed[o], least_db);
  return gone;
}

/* The section of rank in the order of worth, the least worth first, among those that are not fixed. */
static size_t of_rank(const double *worth, size_t fixed, size_t sections, size_t rank)
{
  for (size_t k = fixed; k < sections; k++) {
    size_t below = 0;
    for (size_t m = fixed; m < sections; m++)
      below += worth[m] < worth[k] || (worth[m] == worth[k] && m < k);
    if (below == rank)
      return k;
  }
  return fixed;
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
      size_t sections = state->setting[o].sections, fixed = state->fixed[o];
      if (dropped_hz)
        dropped_hz[o] = 0;
      if (sections <= fixed)
        continue;
      size_t least = of_rank(line, fixed, sections, rank % (sections - fixed));
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

size_t cw_section_count_drop_cheapest(const CwFitProblem *problem, CwFitState *state, size_t most)
{
  double *rise = cw_alloc_real(state->outputs * CW_SETTING_MOST_SECTIONS);
  bool *touched = cw_alloc_bytes(state->outputs * sizeof *touched),
       known = cw_fit_worth(problem, state, rise);
  size_t gone = 0;

  while (known && gone < most) {
    size_t output = state->outputs, section = 0;
    for (size_t o = 0; o < state->outputs; o++)
      for (size_t k = state->fixed[o]; k < state->setting[o].sections && !touched[o]; k++)
        if (state->setting[o].section[k].kind != CW_SECTION_ALL_PASS &&
            (output == state->outputs ||
             rise[o * CW_SETTING_MOST_SECTIONS + k] < rise[output * CW_SETTING_MOST_SECTIONS + section])) {
          output = o;
          section = k;
        }
    if (output == state->outputs)
      break;
    cw_section_count_drop(&state->setting[output], section);
    touched[output] = true; /* the order of its others' worth is gone */
    gone++;
  }
  cw_free(touched);
  cw_free(rise);
  return gone;
}

size_t cw_section_count_total(const CwFitState *state)
{
  size_t total = 0;
  for (size_t o = 0; o < state->outputs; o++)
    total += state->setting[o].sections;
  return total;
}
