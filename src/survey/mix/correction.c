/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/mix/correction_fit.h"
#include <math.h>
#include <string.h>

#define SHARED_ABOVE 2.0      /* times a shared lead's upper edge: where the sides' own sections begin */
#define OWN_SECTIONS_PART 0.4 /* of all, for each side where they share a lead */
#define BOOST_FROM_HZ 10.0
#define BOOST_TO_HZ 20000.0
#define BOOST_STEP 1.0145     /* 1/48 octave */
#define UNHEARD_DB (-30.0)    /* a lead against its sum below which what a section does to it is not heard */
#define SHIFT_IS_WORTH_DB 0.2 /* of flatness */
#define TOUCHES_DB 0.5        /* of a section: what it does counts from there */

static double decibels(CwComplex value)
{
  return 20 * log10(cabs(value) + 1e-9);
}

static void side_db(const CwMixLead *lead, const CwMixChoice *mix, int side, double *db)
{
  CwComplex sum[CW_SURVEY_POINTS];

  cw_mix_sum(mix, lead, side, sum);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    db[i] = decibels(sum[i]);
}

static size_t point_at(double hz)
{
  return (size_t)lrint(12 * log2(hz / 20));
}

static double delay_step_samples(const CwLimits *limits)
{
  double step = limits->delay_step_seconds * limits->rate_hz;
  return step > 0 ? step : 1;
}

/* Inputs: one for each lead of the mix, a shared lead once. */
static void list_inputs(const CwMixLead *lead, CwCorrectionPlan *c, const CwLimits *limits)
{
  for (int side = 0; side < 2; side++)
    for (size_t p = 0; p < c->mix.side[side].parts; p++) {
      const CwMixPart *part = &c->mix.side[side].part[p];
      size_t k = 0;
      while (k < c->inputs && c->input[k].index != part->index)
        k++;
      if (k == c->inputs)
        c->input[c->inputs++] =
            (CwCorrectedInput){.index = part->index, .gain_db = part->gain_db, .inverted = part->inverted};
      c->input[k].feeds[side] = true;
      c->input[k].delay_samples =
          cw_limits_on_step(part->delay_seconds * limits->rate_hz, delay_step_samples(limits));
    }
}

/* The upper edge of the leads that feed both sides; 0 for none. */
static double shared_edge(const CwMixLead *lead, const CwCorrectionPlan *c)
{
  double edge = 0;
  for (size_t k = 0; k < c->inputs; k++)
    if (c->input[k].feeds[0] && c->input[k].feeds[1])
      edge = fmax(edge, isnan(lead[c->input[k].index].high_hz) ? 20000 : lead[c->input[k].index].high_hz);
  return edge;
}

/* The lead that both sides share must have one setting: the levels are the mean of both. */
static void agree_on_shared(CwCorrectionPlan *c)
{
  for (size_t k = 0; k < c->inputs; k++) {
    double gain = 0;
    CwMixPart *part[2] = {NULL, NULL};
    if (!c->input[k].feeds[0] || !c->input[k].feeds[1])
      continue;
    for (int side = 0; side < 2; side++)
      for (size_t p = 0; p < c->mix.side[side].parts; p++)
        if (c->mix.side[side].part[p].index == c->input[k].index) {
          part[side] = &c->mix.side[side].part[p];
          gain += 0.5 * part[side]->gain_db;
        }
    part[1]->inverted = part[0]->inverted;
    part[0]->gain_db = part[1]->gain_db = c->input[k].gain_db = gain;
  }
}

/* The all-passes that other leads have, as near as the processor's steps allow. */
static void all_passes_of(const CwMixLead *lead, CwCorrectionPlan *c, CwCorrectedInput *input,
                          const CwLimits *limits)
{
  for (size_t a = 0; a < c->mix.all_passes; a++) {
    double hz = c->mix.all_pass_hz[a], q = c->mix.all_pass_q[a];
    if (cw_mix_is_own_all_pass(&c->mix, a, &lead[input->index]))
      continue;
    input->section[input->sections++] = (CwSection){CW_SECTION_ALL_PASS, cw_limits_frequency_hz(limits, hz, 0),
                                                    0, cw_limits_q(limits, q, 0)};
  }
}

/* Does a section do anything that is heard of this lead? */
static bool matters(const CwSection *s, const CwComplex *own, const double *sum_db, double rate_hz)
{
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    if (fabs(cw_flat_section_db(s, rate_hz, cw_mix_hz(i))) > TOUCHES_DB &&
        decibels(own[i]) > sum_db[i] + UNHEARD_DB)
      return true;
  return false;
}

static void give_sections(const CwMixLead *lead, CwCorrectionPlan *c, int side, const CwSection *section,
                          size_t sections, const CwLimits *limits, bool shared)
{
  double sum_db[CW_SURVEY_POINTS];

  side_db(lead, &c->mix, side, sum_db);
  for (size_t p = 0; p < c->mix.side[side].parts; p++) {
    CwComplex own[CW_SURVEY_POINTS];
    CwCorrectedInput *input = c->input;
    while (input->index != c->mix.side[side].part[p].index)
      input++;
    if (input->feeds[0] && input->feeds[1] && !shared)
      continue;
    cw_mix_contribution(&c->mix, &lead[input->index], &c->mix.side[side].part[p], own);
    for (size_t k = 0; k < sections && input->sections < CW_CORRECT_MOST_SECTIONS; k++)
      if (matters(&section[k], own, sum_db, limits->rate_hz))
        input->section[input->sections++] = section[k];
  }
}

static size_t room_for_sections(const CwCorrectionPlan *c, const CwLimits *limits)
{
  size_t most = limits->sections < CW_CORRECT_MOST_SECTIONS ? limits->sections : CW_CORRECT_MOST_SECTIONS,
         least = most;
  for (size_t k = 0; k < c->inputs; k++)
    least = least > c->input[k].sections
                ? (most - c->input[k].sections < least ? most - c->input[k].sections : least)
                : 0;
  return least;
}

/* The mean over 1/6 octave at the ends of the range reaches a point beyond: it is made flat too where there
 * is signal. */
static void widen(const CwCorrectionPlan *c, const double *db, size_t *first, size_t *last)
{
  bool below = *first > 0, above = *last + 1 < CW_SURVEY_POINTS;

  for (int side = 0; side < 2; side++) {
    const double *own = db + side * CW_SURVEY_POINTS;
    if (c->mix.side[side].parts == 0)
      continue;
    below = below && own[*first - 1] > c->mix.side[side].level_db - CW_MIX_REACH_DB;
    above = above && own[*last + 1] > c->mix.side[side].level_db - CW_MIX_REACH_DB;
  }
  *first -= below;
  *last += above;
}

static void fit_sides(const CwMixLead *lead, CwCorrectionPlan *c, const CwLimits *limits)
{
  double db[2 * CW_SURVEY_POINTS], edge = shared_edge(lead, c);
  size_t first = point_at(c->low_hz), last = point_at(c->high_hz), room = room_for_sections(c, limits),
         shared_sections = 0;
  CwSection shared[CW_CORRECT_MOST_SECTIONS];
  bool two = c->mix.side[0].parts && c->mix.side[1].parts;

  for (int side = 0; side < 2; side++)
    side_db(lead, &c->mix, side, db + side * CW_SURVEY_POINTS);
  widen(c, db, &first, &last);
  if (edge > 0 && two) {
    CwFlatProblem both = {db,
                          2,
                          first,
                          last,
                          c->low_hz / 1.3,
                          fmin(c->high_hz * 1.3, 20000),
                          limits,
                          room - (size_t)(OWN_SECTIONS_PART * (double)room)};
    cw_flat_fit(&both, shared, &shared_sections);
    for (int side = 0; side < 2; side++)
      for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
        for (size_t k = 0; k < shared_sections; k++)
          db[side * CW_SURVEY_POINTS + i] += cw_flat_section_db(&shared[k], limits->rate_hz, cw_mix_hz(i));
    /* A lead that both sides share is given its sections once. */
    for (int side = 0; side < 2; side++)
      give_sections(lead, c, side, shared, shared_sections, limits, side == 0);
  }
  for (int side = 0; side < 2; side++) {
    CwSection own[CW_CORRECT_MOST_SECTIONS];
    size_t sections = 0;
    double low = edge > 0 && two ? fmax(c->low_hz, SHARED_ABOVE * edge) : c->low_hz / 1.3;
    CwFlatProblem problem = {
        db + side * CW_SURVEY_POINTS, 1, first, last, low, fmin(c->high_hz * 1.3, 20000), limits,
        room - shared_sections};
    if (c->mix.side[side].parts == 0 || low > c->high_hz)
      continue;
    cw_flat_fit(&problem, own, &sections);
    give_sections(lead, c, side, own, sections, limits, !two);
  }
}

static const CwMixPart *part_of(const CwMixChoice *mix, int side, size_t index)
{
  for (size_t p = 0; p < mix->side[side].parts; p++)
    if (mix->side[side].part[p].index == index)
      return &mix->side[side].part[p];
  return NULL;
}

void cw_correct_sum(const CwMixLead *lead, const CwCorrectionPlan *c, const CwLimits *limits, int side,
                    CwComplex *sum)
{
  memset(sum, 0, CW_SURVEY_POINTS * sizeof *sum);
  for (size_t k = 0; k < c->inputs; k++) {
    const CwCorrectedInput *input = &c->input[k];
    CwCoefficients cascade[CW_CORRECT_MOST_SECTIONS];
    double gain = pow(10, input->gain_db / 20) * (input->inverted ? -1 : 1);
    if (!input->feeds[side] || !part_of(&c->mix, side, input->index))
      continue;
    for (size_t s = 0; s < input->sections; s++)
      cw_section_design(&input->section[s], limits->rate_hz, &cascade[s]);
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
      double hz = cw_mix_hz(i);
      CwComplex h = gain * lead[input->index].value[i] *
                    cexp(-2 * M_PI * I * hz *
                         (lead[input->index].delay_seconds + input->delay_samples / limits->rate_hz));
      for (size_t s = 0; s < input->sections; s++)
        h *= cw_coefficients_response(&cascade[s], hz, limits->rate_hz);
      sum[i] += h;
    }
  }
}

static double boost_of(const CwCorrectedInput *input, double rate_hz)
{
  double boost = 0;
  CwCoefficients cascade[CW_CORRECT_MOST_SECTIONS];

  for (size_t s = 0; s < input->sections; s++)
    cw_section_design(&input->section[s], rate_hz, &cascade[s]);
  for (double hz = BOOST_FROM_HZ; hz < BOOST_TO_HZ;
       hz *= BOOST_STEP) { /* finer than the told points: a narrow section peaks between them */
    CwComplex response = 1;
    for (size_t s = 0; s < input->sections; s++)
      response *= cw_coefficients_response(&cascade[s], hz, rate_hz);
    boost = fmax(boost, decibels(response));
  }
  return boost;
}

/* The fit leans against too much boost; this is the wall. Gains stay on the processor's grid. */
static void hold_boost(CwCorrectedInput *input, const CwLimits *limits)
{
  double step_db = limits->gain_step_db > 0 ? limits->gain_step_db : 0.1;

  while (boost_of(input, limits->rate_hz) > CW_CORRECT_MOST_BOOST_DB) {
    size_t most = input->sections;
    for (size_t s = 0; s < input->sections; s++)
      if (input->section[s].gain_db > 0 &&
          (most == input->sections || input->section[s].gain_db > input->section[most].gain_db))
        most = s;
    if (most == input->sections)
      return;
    input->section[most].gain_db =
        fmax(cw_limits_on_step(input->section[most].gain_db - step_db, limits->gain_step_db), 0);
  }
}

/* Makes both sides equally loud, and says how flat they are. */
static void settle(const CwMixLead *lead, CwCorrectionPlan *c, const CwLimits *limits)
{
  double level[2] = {NAN, NAN}, db[CW_SURVEY_POINTS], target = INFINITY;
  CwComplex sum[CW_SURVEY_POINTS];
  bool shared = shared_edge(lead, c) > 0;

  c->flat_db = NAN;
  for (size_t k = 0; k < c->inputs; k++)
    hold_boost(&c->input[k], limits);
  for (int side = 0; side < 2; side++) {
    if (c->mix.side[side].parts == 0)
      continue;
    cw_correct_sum(lead, c, limits, side, sum);
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      db[i] = decibels(sum[i]);
    size_t where = 0;
    double worst = cw_flat_worst_db(db, point_at(c->low_hz), point_at(c->high_hz), &level[side], &where);
    if (!(worst <= c->flat_db)) {
      c->flat_db = worst;
      c->worst_hz = cw_mix_hz(where);
    }
    target = fmin(target, level[side]);
  }
  for (size_t k = 0; k < c->inputs; k++) {
    CwCorrectedInput *input = &c->input[k];
    if (!shared)
      input->gain_db += target - level[input->feeds[0] ? 0 : 1];
    input->gain_db = cw_limits_on_step(input->gain_db, limits->gain_step_db);
    c->most_boost_db = fmax(c->most_boost_db, boost_of(input, limits->rate_hz));
  }
  c->level_db = target;
}

/* No input is delayed by more than there is, and what that does to the sum is corrected and told. */
static void hold_delays(CwCorrectionPlan *c, const CwLimits *limits)
{
  double step = delay_step_samples(limits),
         most = step * floor(limits->delay_most_seconds * limits->rate_hz / step + 1e-9) / limits->rate_hz;

  for (int side = 0; side < 2; side++)
    for (size_t p = 0; p < c->mix.side[side].parts; p++) {
      CwMixPart *part = &c->mix.side[side].part[p];
      if (part->delay_seconds < most + 0.5 * step / limits->rate_hz)
        continue; /* rounded, it fits */
      c->wanted_seconds = fmax(c->wanted_seconds, part->delay_seconds);
      part->delay_seconds = most;
    }
}

static void correct(const CwMixLead *lead, size_t leads, const CwLimits *limits, CwMixArrival arrival,
                    CwCorrectionPlan *c)
{
  *c = (CwCorrectionPlan){.flat_db = NAN, .low_hz = NAN, .high_hz = NAN, .level_db = NAN, .worst_hz = NAN};
  c->mix = cw_mix_choose(lead, leads, limits->all_pass && limits->sections > 0, arrival);
  hold_delays(c, limits);
  for (int side = 0; side < 2; side++) {
    const CwSideMix *mix = &c->mix.side[side];
    if (mix->parts == 0)
      continue;
    c->low_hz = isnan(c->low_hz) ? mix->low_hz : fmax(c->low_hz, mix->low_hz);
    c->high_hz = isnan(c->high_hz) ? mix->high_hz : fmin(c->high_hz, mix->high_hz);
  }
  list_inputs(lead, c, limits);
  if (c->inputs == 0 || !(c->high_hz > 2 * c->low_hz))
    return;
  agree_on_shared(c);
  for (size_t k = 0; k < c->inputs; k++)
    all_passes_of(lead, c, &c->input[k], limits);
  fit_sides(lead, c, limits);
  settle(lead, c, limits);
}

/* Takes the plan for another arrival if that is flatter and reaches as far. */
static void try_arrival(const CwMixLead *lead, size_t leads, const CwLimits *limits,
                        CwMixArrival arrival, CwCorrectionPlan *c)
{
  CwCorrectionPlan *other = cw_alloc_bytes(sizeof *other);

  correct(lead, leads, limits, arrival, other);
  if (other->flat_db < c->flat_db - SHIFT_IS_WORTH_DB && other->low_hz <= c->low_hz &&
      other->high_hz >= c->high_hz)
    *c = *other;
  cw_free(other);
}

void cw_correct_leads(const CwMixLead *lead, size_t leads, const CwLimits *limits, CwCorrectionPlan *c)
{
  correct(lead, leads, limits, limits->no_delay ? CW_MIX_AS_THEY_COME : CW_MIX_TOGETHER, c);
  if (limits->no_delay || !(c->flat_db > CW_CORRECT_ENOUGH_DB))
    return;
  double wanted = c->wanted_seconds;
  try_arrival(lead, leads, limits, CW_MIX_SHIFTED, c);
  if (wanted > 0 && c->wanted_seconds > 0 && c->flat_db > CW_CORRECT_ENOUGH_DB) {
    try_arrival(lead, leads, limits, CW_MIX_AS_THEY_COME, c);
    c->wanted_seconds = fmax(c->wanted_seconds, c->mix.arrival == CW_MIX_AS_THEY_COME ? wanted : 0);
  }
}
