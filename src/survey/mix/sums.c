/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/mix/sums.h"
#include "signal/sort.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LOST_DB 1.5 /* below it leads add up */
#define EXPLAINED_PART                                                                                       \
  0.5 /* of the loss that goes when delay or polarity is set right: then it was the cause */
#define COMB_SECONDS 50e-6

/* Edges 6 dB below the level that a tenth of the points exceed. */
static void find_edges(CwLeadsSum *s)
{
  double sorted[CW_SURVEY_POINTS], level;
  size_t n = 0, first = 0, last = CW_SURVEY_POINTS - 1;

  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    if (!isnan(s->db[i]))
      sorted[n++] = s->db[i];
  s->low_hz = s->high_hz = NAN;
  if (n == 0)
    return;
  cw_sort_rising(sorted, n);
  level = sorted[(size_t)(0.9 * (double)(n - 1))] - 6;
  while (first < last && !(s->db[first] > level))
    first++;
  while (last > first && !(s->db[last] > level))
    last--;
  s->low_hz = first > 0 ? cw_mix_hz(first) : NAN;
  s->high_hz = last < CW_SURVEY_POINTS - 1 ? cw_mix_hz(last) : NAN;
}

/* What would be lost if each lead after the first had the polarity that suits the sum best. */
static double loss_turned(CwMixLead *lead, size_t count, double now)
{
  static const size_t order[CW_MIX_MOST_PARTS] = {0, 1, 2, 3};
  double db[CW_SURVEY_POINTS];

  for (size_t k = 1; k < count; k++) {
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      lead[k].value[i] = -lead[k].value[i];
    double turned = cw_mix_raw_sum(lead, order, count, db, NULL);
    if (turned < now)
      now = turned;
    else
      for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
        lead[k].value[i] = -lead[k].value[i];
  }
  return now;
}

/* The cause of a loss is what, set right, takes most of it away. */
static CwSumVerdict find_cause(const CwMixLead *lead, const CwLeadsSum *s)
{
  CwMixLead copy[CW_MIX_MOST_PARTS];
  static const size_t order[CW_MIX_MOST_PARTS] = {0, 1, 2, 3};
  double db[CW_SURVEY_POINTS];

  if (s->count == 1)
    return CW_SUM_ALONE;
  if (s->loss_db < LOST_DB)
    return CW_SUM_ADDS;
  for (size_t k = 0; k < s->count; k++)
    copy[k] = lead[s->index[k]];
  if (loss_turned(copy, s->count, s->loss_db) < EXPLAINED_PART * s->loss_db)
    return CW_SUM_VANISHES;
  for (size_t k = 0; k < s->count; k++) {
    copy[k] = lead[s->index[k]];
    copy[k].delay_seconds = 0;
  }
  double aligned = cw_mix_raw_sum(copy, order, s->count, db, NULL);
  if (s->apart_seconds > COMB_SECONDS && loss_turned(copy, s->count, aligned) < EXPLAINED_PART * s->loss_db)
    return CW_SUM_COMB;
  return CW_SUM_UNEVEN;
}

static bool is_listed(const CwLeadsSum *sum, size_t sums, const size_t *index, size_t count, size_t *at)
{
  for (*at = 0; *at < sums; (*at)++)
    if (sum[*at].count == count && memcmp(sum[*at].index, index, count * sizeof *index) == 0)
      return true;
  return false;
}

static void sort(size_t *index, size_t count)
{
  for (size_t i = 1; i < count; i++)
    for (size_t k = i; k > 0 && index[k - 1] > index[k]; k--) {
      size_t swap = index[k];
      index[k] = index[k - 1];
      index[k - 1] = swap;
    }
}

static void add_sum(const CwMixLead *lead, const size_t *chosen, size_t count, int side, bool advised,
                    CwLeadsSum *sum, size_t *sums)
{
  size_t index[CW_MIX_MOST_PARTS], at;
  double earliest = INFINITY, latest = -INFINITY;

  if (count == 0 || count > CW_MIX_MOST_PARTS)
    return;
  memcpy(index, chosen, count * sizeof *index);
  sort(index, count);
  if (is_listed(sum, *sums, index, count, &at)) {
    sum[at].advised |= advised;
    return;
  }
  if (*sums == CW_SUMS_MOST)
    return;
  CwLeadsSum *s = &sum[(*sums)++];
  *s = (CwLeadsSum){.count = count, .side = side, .advised = advised};
  memcpy(s->index, index, count * sizeof *index);
  for (size_t k = 0; k < count; k++) {
    earliest = fmin(earliest, lead[index[k]].delay_seconds);
    latest = fmax(latest, lead[index[k]].delay_seconds);
  }
  s->apart_seconds = latest - earliest;
  s->loss_db = cw_mix_raw_sum(lead, index, count, s->db, &s->meet_octaves);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    s->db[i] -= 10 * log10(2);
  find_edges(s);
  s->verdict = find_cause(lead, s);
}

/* The lead of a side and end with the widest band; leads for none. */
static size_t widest(const CwMixLead *lead, size_t leads, int side, int end)
{
  size_t best = leads;
  double most = 0;

  for (size_t i = 0; i < leads; i++) {
    double octaves = log2((isnan(lead[i].high_hz) ? 20000 : lead[i].high_hz) /
                          (isnan(lead[i].low_hz) ? 20 : lead[i].low_hz));
    if (lead[i].usable && lead[i].side == side && (lead[i].end == end || end < 0) && octaves > most) {
      most = octaves;
      best = i;
    }
  }
  return best;
}

static void add_pair(const CwMixLead *lead, size_t leads, size_t one, size_t other, int side, CwLeadsSum *sum,
                     size_t *sums)
{
  size_t pair[2] = {one, other};
  if (one < leads && other < leads && one != other)
    add_sum(lead, pair, 2, side, false, sum, sums);
}

size_t cw_sums_list(const CwMixLead *lead, size_t leads, const CwMixChoice *mix, CwLeadsSum *sum)
{
  static const int ends[] = {CW_END_FRONT, CW_END_REAR, CW_END_UNFADED, CW_SURVEY_UNKNOWN};
  size_t sums = 0;

  for (int side = 0; side < 2; side++) {
    size_t advised[CW_MIX_MOST_PARTS];
    for (size_t p = 0; p < mix->side[side].parts; p++)
      advised[p] = mix->side[side].part[p].index;
    add_sum(lead, advised, mix->side[side].parts, side, true, sum, &sums);
  }
  for (size_t e = 0; e < 4; e++)
    for (int side = 0; side < 2; side++) {
      size_t ways[CW_MIX_MOST_PARTS + 1], count = 0;
      for (size_t i = 0; i < leads && count <= CW_MIX_MOST_PARTS; i++)
        if (lead[i].usable && lead[i].side == side && lead[i].end == ends[e])
          ways[count++] = i;
      if (count > 1)
        add_sum(lead, ways, count, side, false, sum, &sums);
    }
  for (int side = 0; side < 2; side++) {
    add_pair(lead, leads, widest(lead, leads, side, CW_END_FRONT), widest(lead, leads, side, CW_END_REAR),
             side, sum, &sums);
    for (size_t i = 0; i < leads; i++)
      if (lead[i].usable && lead[i].side == CW_SIDE_BOTH)
        add_pair(lead, leads, widest(lead, leads, side, -1), i, side, sum, &sums);
  }
  for (size_t e = 0; e < 4; e++)
    add_pair(lead, leads, widest(lead, leads, CW_SIDE_LEFT, ends[e]),
             widest(lead, leads, CW_SIDE_RIGHT, ends[e]), CW_SIDE_BOTH, sum, &sums);
  return sums;
}
