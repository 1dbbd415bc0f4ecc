/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include "survey/mix/mix.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_CANDIDATES 8
#define LEAD_COSTS_OCTAVES 0.5 /* one lead more must cover so much more */
#define REAR_COSTS_OCTAVES                                                                                   \
  0.8                      /* the rear is taken where the front will not do: the fader would turn it down */
#define ALIKE_IS_WORTH 1.0 /* octaves of both sides together, for the same kinds of lead on both */
#define UNEVEN_COSTS 0.08  /* octaves a decibel */
#define GAIN_STEP_DB 0.5
#define GAIN_MOST_DB 12.0
#define ALIKE_OCTAVES 1.5 /* by which the edges of like leads may differ together */
#define DIP_DB 12.0       /* deepest dip within the range */
#define DIP_POINTS 12     /* widest, between the points beside it */
#define SHIFT_STEPS 8     /* of half a period, where leads meet, by which one may be later or earlier */
#define SHIFT_COSTS 0.05  /* octaves, for half a period */
#define LOSS_COSTS 0.03   /* octaves a decibel that is lost at worst where leads meet */
#define LOSS_DB 10.0      /* of the weaker below the stronger, while the loss counts */

static double decibels(CwComplex value)
{
  return 20 * log10(cabs(value) + 1e-9);
}

/* The level about which a sum is even: the median of the points within 15 dB of the loudest tenth. */
static double level_of(const double *db, size_t first, size_t last)
{
  double sorted[CW_SURVEY_POINTS];
  size_t n = last - first + 1, below = 0;

  memcpy(sorted, db + first, n * sizeof *sorted);
  cw_sort_rising(sorted, n);
  double top = sorted[(size_t)(0.9 * (double)(n - 1))];
  while (below < n - 1 && sorted[below] < top - 15)
    below++;
  return sorted[(below + n - 1) / 2];
}

/* Is there signal at a point, or is it in a dip that a section can fill? */
static bool bridged(const double *db, size_t i, size_t low, size_t high, double level)
{
  size_t before = i, after = i;

  if (db[i] > level - CW_MIX_REACH_DB)
    return true;
  while (before > low && !(db[before] > level - CW_MIX_REACH_DB))
    before--;
  while (after < high && !(db[after] > level - CW_MIX_REACH_DB))
    after++;
  return db[i] > level - DIP_DB && after - before <= DIP_POINTS && db[before] > level - CW_MIX_REACH_DB &&
         db[after] > level - CW_MIX_REACH_DB;
}

/* Level, range and evenness of a sum. */
static void judge(const CwComplex *sum, CwSideMix *mix)
{
  double db[CW_SURVEY_POINTS], squares = 0;
  size_t low = 0, high = CW_SURVEY_POINTS - 1, best = 0, best_first = 0, run = 0;

  while (cw_mix_hz(low) < CW_MIX_LOW_HZ * 0.999)
    low++;
  while (cw_mix_hz(high - 1) >= CW_MIX_HIGH_HZ)
    high--;
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    db[i] = decibels(sum[i]);
  mix->level_db = level_of(db, low, high);
  for (size_t i = low; i <= high; i++) {
    run = bridged(db, i, low, high, mix->level_db) ? run + 1 : 0;
    if (run > best) {
      best = run;
      best_first = i + 1 - run;
    }
  }
  for (size_t i = best_first; i < best_first + best; i++)
    squares += pow(db[i] - mix->level_db, 2);
  mix->octaves = (double)best / 12;
  mix->low_hz = cw_mix_hz(best_first);
  mix->high_hz = cw_mix_hz(best_first + (best ? best - 1 : 0));
  mix->uneven_db = best ? sqrt(squares / (double)best) : INFINITY;
}

static double worth(const CwMixLead *lead, const CwSideMix *mix)
{
  double worth = mix->octaves - UNEVEN_COSTS * mix->uneven_db;
  for (size_t p = 0; p < mix->parts; p++)
    worth -= LEAD_COSTS_OCTAVES + (lead[mix->part[p].index].end == CW_END_REAR ? REAR_COSTS_OCTAVES : 0);
  return worth;
}

/* The frequency about which a lead meets a sum, the mean over octaves of where both matter; 0 where they do
 * not.
 */
static double meet_hz(const CwComplex *sum, const CwComplex *own)
{
  double weight = 0, mean = 0;

  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    double a = cabs(sum[i]), b = cabs(own[i]), w = a > 0 && b > 0 ? pow(fmin(a, b) / fmax(a, b), 2) : 0;
    w *= b * b + a * a;
    weight += w;
    mean += w * log(cw_mix_hz(i));
  }
  return weight > 0 ? exp(mean / weight) : 0;
}

/* The most that is lost, dB, where a lead meets a sum, against adding in phase: what is even by a
 * cancellation that fills a peak is no sum to correct. */
static double lost_db(const CwComplex *sum, const CwComplex *own)
{
  double most = 1;

  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    double hz = cw_mix_hz(i), a = cabs(sum[i]), b = cabs(own[i]);
    if (hz < CW_MIX_LOW_HZ || hz > CW_MIX_HIGH_HZ || fmin(a, b) < fmax(a, b) * pow(10, -LOSS_DB / 20))
      continue;
    most = fmin(most, cabs(sum[i] + own[i]) / (a + b));
  }
  return -20 * log10(fmax(most, 1e-3));
}

/* Adds one lead to a sum so that it covers most, evenly. shift: it may be later or earlier by up to half a
 * period where it meets the sum. */
static void add_part(const CwMixChoice *choice, const CwMixLead *lead, CwMixPart part, bool shift,
                     CwComplex *sum, CwSideMix *mix)
{
  CwComplex own[CW_SURVEY_POINTS], both[CW_SURVEY_POINTS];
  double best = -INFINITY, best_gain = 0, hz;

  cw_mix_contribution(choice, &lead[part.index], &part, own);
  hz = meet_hz(sum, own);
  for (int step = shift && hz > 0 ? -SHIFT_STEPS : 0; step <= (shift && hz > 0 ? SHIFT_STEPS : 0); step++) {
    double later = hz > 0 ? 0.5 * step / SHIFT_STEPS / hz : 0;
    for (int turned = 0; turned < 2; turned++)
      for (double gain_db = -GAIN_MOST_DB; gain_db <= GAIN_MOST_DB; gain_db += GAIN_STEP_DB) {
        double gain = pow(10, gain_db / 20) * (turned ? -1 : 1);
        CwSideMix now = {0};
        for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
          both[i] = gain * own[i] * cexp(-2 * M_PI * I * cw_mix_hz(i) * later);
        double lost = LOSS_COSTS * lost_db(sum, both);
        for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
          both[i] += sum[i];
        judge(both, &now);
        double value = now.octaves - 2 * UNEVEN_COSTS * now.uneven_db - 0.002 * fabs(gain_db) - lost -
                       SHIFT_COSTS * abs(step) / SHIFT_STEPS;
        if (value > best) {
          best = value;
          best_gain = gain;
          part.later_seconds = later;
        }
      }
  }
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    sum[i] += best_gain * own[i] * cexp(-2 * M_PI * I * cw_mix_hz(i) * part.later_seconds);
  part.delay_seconds += part.later_seconds;
  part.gain_db = 20 * log10(fabs(best_gain));
  part.inverted ^= best_gain < 0;
  mix->part[mix->parts++] = part;
}

/* The sum of some leads, the widest first, with equal arrivals unless they may be shifted; gains so that none
 * is lifted. */
static CwSideMix try_leads(const CwMixChoice *choice, const CwMixLead *lead, const size_t *index,
                           size_t count, bool shift)
{
  CwComplex sum[CW_SURVEY_POINTS] = {0};
  CwSideMix mix = {0};
  double latest = 0, most = -INFINITY;

  for (size_t k = 0; k < count; k++)
    latest = fmax(latest, lead[index[k]].delay_seconds);
  for (size_t k = 0; k < count; k++) {
    CwMixPart part = {.index = index[k],
                      .delay_seconds =
                          choice->arrival == CW_MIX_AS_THEY_COME ? 0 : latest - lead[index[k]].delay_seconds,
                      .inverted = k == 0 && lead[index[k]].polarity < 0};
    if (k > 0) {
      add_part(choice, lead, part, shift && lead[index[k]].side != CW_SIDE_BOTH, sum, &mix);
      continue;
    }
    cw_mix_contribution(choice, &lead[index[k]], &part, sum);
    mix.part[mix.parts++] = part;
  }
  for (size_t p = 0; p < mix.parts; p++)
    most = fmax(most, mix.part[p].gain_db);
  for (size_t p = 0; p < mix.parts; p++)
    mix.part[p].gain_db -= most;
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    sum[i] *= pow(10, -most / 20);
  judge(sum, &mix);
  return mix;
}

static double octaves_of(const CwMixLead *l)
{
  return log2((isnan(l->high_hz) ? 20000 : l->high_hz) / (isnan(l->low_hz) ? 20 : l->low_hz));
}

/* Leads that may serve a side: its own, and one fed from both sides if it carries the bass. Widest first. */
static size_t candidates(const CwMixLead *lead, size_t leads, int side, size_t *index)
{
  size_t count = 0;

  for (size_t i = 0; i < leads; i++) {
    if (!lead[i].usable ||
        (lead[i].side != side && !(lead[i].side == CW_SIDE_BOTH && lead[i].band == CW_BAND_BASS)))
      continue;
    size_t k = count < MOST_CANDIDATES ? count++ : MOST_CANDIDATES - 1;
    for (; k > 0 && octaves_of(&lead[index[k - 1]]) < octaves_of(&lead[i]); k--)
      index[k] = index[k - 1];
    index[k] = i;
  }
  return count;
}

static CwSideMix best_of_side(const CwMixChoice *choice, const CwMixLead *lead, size_t leads, int side)
{
  size_t index[MOST_CANDIDATES], count = candidates(lead, leads, side, index);
  CwSideMix best = {0};
  double best_worth = -INFINITY;

  for (unsigned set = 1; set < 1u << count; set++) {
    size_t chosen[MOST_CANDIDATES], n = 0;
    for (size_t k = 0; k < count; k++)
      if (set & 1u << k)
        chosen[n++] = index[k];
    if (n > CW_MIX_MOST_PARTS)
      continue;
    CwSideMix now = try_leads(choice, lead, chosen, n, false);
    double value = worth(lead, &now);
    if (value > best_worth + 1e-9) {
      best_worth = value;
      best = now;
    }
  }
  return best;
}

static void list_all_passes(const CwMixLead *lead, CwMixChoice *choice)
{
  choice->all_passes = 0;
  for (int side = 0; side < 2; side++)
    for (size_t p = 0; p < choice->side[side].parts; p++) {
      const CwMixLead *l = &lead[choice->side[side].part[p].index];
      bool known = isnan(l->all_pass_hz);
      for (size_t a = 0; a < choice->all_passes && !known; a++)
        known = cw_mix_is_own_all_pass(choice, a, l);
      if (known || choice->all_passes == CW_MIX_MOST_ALL_PASSES)
        continue;
      choice->all_pass_hz[choice->all_passes] = l->all_pass_hz;
      choice->all_pass_q[choice->all_passes++] = l->all_pass_q;
    }
}

/* Lets the parts of each side be later than one another where they then add up better. */
static void shift_parts(const CwMixLead *lead, CwMixChoice *choice)
{
  for (int side = 0; side < 2; side++) {
    size_t index[CW_MIX_MOST_PARTS], parts = choice->side[side].parts;
    for (size_t p = 0; p < parts; p++)
      index[p] = choice->side[side].part[p].index;
    if (parts > 1)
      choice->side[side] = try_leads(choice, lead, index, parts, true);
  }
}

/* Brings both sides to one arrival. */
static void align_sides(const CwMixLead *lead, CwMixChoice *choice)
{
  double latest = 0;

  for (int side = 0; side < 2; side++)
    for (size_t p = 0; p < choice->side[side].parts; p++)
      latest = fmax(latest, lead[choice->side[side].part[p].index].delay_seconds -
                                choice->side[side].part[p].later_seconds);
  for (int side = 0; side < 2; side++)
    for (size_t p = 0; p < choice->side[side].parts; p++)
      choice->side[side].part[p].delay_seconds = latest + choice->side[side].part[p].later_seconds -
                                                 lead[choice->side[side].part[p].index].delay_seconds;
}

static double edge(double hz, double beyond)
{
  return isnan(hz) ? beyond : hz;
}

/* The lead of the other side that is most like one: same end, nearest edges; leads for none. One that both
 * sides share is its own. */
static size_t mirror(const CwMixLead *lead, size_t leads, size_t which)
{
  const CwMixLead *l = &lead[which];
  size_t best = leads;
  double least = ALIKE_OCTAVES;

  if (l->side == CW_SIDE_BOTH)
    return which;
  for (size_t i = 0; i < leads; i++) {
    double apart = fabs(log2(edge(lead[i].low_hz, 20) / edge(l->low_hz, 20))) +
                   fabs(log2(edge(lead[i].high_hz, 20000) / edge(l->high_hz, 20000)));
    if (lead[i].usable && lead[i].side == (l->side == CW_SIDE_LEFT ? CW_SIDE_RIGHT : CW_SIDE_LEFT) &&
        lead[i].end == l->end && apart < least) {
      least = apart;
      best = i;
    }
  }
  return best;
}

/* The sum of the other side's leads that are like a mix's; no parts where one has no like. */
static CwSideMix mirrored(const CwMixChoice *choice, const CwMixLead *lead, size_t leads,
                          const CwSideMix *mix)
{
  size_t index[CW_MIX_MOST_PARTS];

  for (size_t p = 0; p < mix->parts; p++) {
    index[p] = mirror(lead, leads, mix->part[p].index);
    if (index[p] == leads)
      return (CwSideMix){0};
  }
  return mix->parts ? try_leads(choice, lead, index, mix->parts, false) : (CwSideMix){0};
}

/* The best leads of each side, or the same kinds on both where that costs little. */
static void choose_sides(const CwMixLead *lead, size_t leads, CwMixChoice *choice)
{
  CwSideMix best[2], like[2];
  double apart, most;

  for (int side = 0; side < 2; side++)
    best[side] = choice->side[side] = best_of_side(choice, lead, leads, side);
  if (best[0].parts == 0 || best[1].parts == 0)
    return;
  apart = worth(lead, &best[0]) + worth(lead, &best[1]);
  most = apart - ALIKE_IS_WORTH;
  for (int side = 0; side < 2; side++) {
    like[side] = mirrored(choice, lead, leads, &best[side]);
    double both = like[side].parts ? worth(lead, &best[side]) + worth(lead, &like[side]) : -INFINITY;
    if (both > most) {
      most = both;
      choice->side[side] = best[side];
      choice->side[!side] = like[side];
    }
  }
}

CwMixChoice cw_mix_choose(const CwMixLead *lead, size_t leads, bool turn_all_passes, CwMixArrival arrival)
{
  CwMixChoice choice = {.arrival = arrival};

  choose_sides(lead, leads, &choice);
  if (turn_all_passes) {
    list_all_passes(lead, &choice);
    if (choice.all_passes)
      choose_sides(lead, leads, &choice);
  }
  if (arrival == CW_MIX_SHIFTED)
    shift_parts(lead, &choice);
  if (arrival != CW_MIX_AS_THEY_COME)
    align_sides(lead, &choice);
  return choice;
}
