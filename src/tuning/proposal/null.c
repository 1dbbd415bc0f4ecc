/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/null.h"
#include "tuning/fit/fit_model.h"
#include <math.h>
#include <stdlib.h>

#define REFUSED_DB 15.0 /* a dip so deep is no matter of tone */
#define EDGE_DB 5.0     /* how far its sides reach */
#define TOLD_DB 5.0     /* a hole left in a sum that is worth telling */
#define BETWEEN_DB 3.0  /* lost in the sum, where speakers cancel */

/* Level over 1/6 octave, dB. */
static void smooth_db(const CwBandMatrices *m, const double *power, double *db)
{
  size_t reach = (size_t)rint(m->per_octave / 12);

  for (size_t b = 0; b < m->bands; b++) {
    double sum = 0;
    size_t first = b > reach ? b - reach : 0, last = b + reach < m->bands ? b + reach : m->bands - 1;
    for (size_t k = first; k <= last; k++)
      sum += power[k];
    db[b] = 10 * log10(sum / (double)(last - first + 1) + 1e-30);
  }
}

/* How far a band lies below the lower one of its two shoulders: the highest levels within an octave to either
 * side, inside first to last. */
static double depth_at(const CwBandMatrices *m, const double *db, size_t first, size_t last, size_t b)
{
  size_t octave = (size_t)m->per_octave;
  double left = -INFINITY, right = -INFINITY;

  for (size_t k = b > first + octave ? b - octave : first; k <= b; k++)
    left = fmax(left, db[k]);
  for (size_t k = b; k <= last && k <= b + octave; k++)
    right = fmax(right, db[k]);
  return fmin(left, right) - db[b];
}

static bool range_of(const CwBandMatrices *m, double low_hz, double high_hz, size_t *first, size_t *last)
{
  *first = 0;
  *last = m->bands - 1;
  while (*first < m->bands && m->hz[*first] < low_hz)
    (*first)++;
  while (*last > *first && m->hz[*last] > high_hz)
    (*last)--;
  return *first < *last;
}

void cw_null_mark(const CwBandMatrices *m, const double *seat_weight, size_t output, double low_hz,
                  double high_hz, bool *no_boost)
{
  double *power = cw_alloc_real(m->bands), *db = cw_alloc_real(m->bands);
  size_t first, last, n = m->outputs;

  for (size_t b = 0; b < m->bands; b++) {
    no_boost[b] = false;
    for (size_t seat = 0; seat < m->seats; seat++)
      power[b] += seat_weight[seat] * creal(m->cross[((seat * m->bands + b) * n + output) * n + output]);
  }
  smooth_db(m, power, db);
  if (range_of(m, low_hz, high_hz, &first, &last))
    for (size_t b = first; b <= last; b++) {
      if (depth_at(m, db, first, last, b) < REFUSED_DB)
        continue;
      for (size_t k = b + 1; k-- > first && depth_at(m, db, first, last, k) >= EDGE_DB;)
        no_boost[k] = true;
      for (size_t k = b; k <= last && depth_at(m, db, first, last, k) >= EDGE_DB; k++)
        no_boost[k] = true;
    }
  cw_free(power);
  cw_free(db);
}

/* One side's sum over the target, what it would be without loss, and each output's own part, at every band.
 */
typedef struct {
  double *power, *whole, *own; /* own: outputs x bands */
} SideSum;

static void sum_side(const CwFitProblem *problem, const CwComplex *drive, size_t side, SideSum *sum)
{
  const CwBandMatrices *m = problem->bands;
  size_t n = m->outputs;

  for (size_t at = 0; at < m->seats * m->bands; at++) {
    size_t b = at % m->bands;
    double part = problem->seat_weight[at / m->bands] * problem->over_target[side * m->bands + b];
    for (size_t i = 0; i < n; i++)
      for (size_t j = 0; j < n; j++) {
        double mix = problem->car->output[i].mix[side] * problem->car->output[j].mix[side];
        CwComplex pair = drive[i * m->bands + b] * conj(drive[j * m->bands + b]);
        double both = part * mix * creal(pair * m->cross[(at * n + i) * n + j]);
        sum->power[b] += both;
        sum->whole[b] += part * fabs(mix) * cabs(pair) * m->magnitude[(at * n + i) * n + j];
        if (i == j)
          sum->own[i * m->bands + b] += both;
      }
  }
}

static int deeper_first(const void *a, const void *b)
{
  double x = ((const CwNull *)a)->depth_db, y = ((const CwNull *)b)->depth_db;
  return (x < y) - (x > y);
}

static size_t find_in_side(const CwFitProblem *problem, const SideSum *sum, CwSide side, CwNull *list,
                           size_t count)
{
  const CwBandMatrices *m = problem->bands;
  double *db = cw_alloc_real(m->bands), mean = 0;
  size_t last = m->bands - 1;

  smooth_db(m, sum->power, db);
  for (size_t b = 0; b < m->bands; b++)
    mean += db[b] / (double)m->bands;
  for (size_t b = 1; b < last && count < CW_NULLS_MOST; b++) {
    double depth = fmin(depth_at(m, db, 0, last, b), mean - db[b]);
    if (depth < TOLD_DB || db[b] > db[b - 1] || db[b] >= db[b + 1])
      continue;
    CwNull hole = {.side = side,
                   .hz = m->hz[b],
                   .depth_db = depth,
                   .between = 10 * log10(sum->whole[b] / fmax(sum->power[b], 1e-30)) > BETWEEN_DB};
    for (size_t o = 1; o < m->outputs; o++)
      if (sum->own[o * m->bands + b] > sum->own[hole.output * m->bands + b])
        hole.output = o;
    list[count++] = hole;
  }
  cw_free(db);
  return count;
}

size_t cw_null_find(const CwFitProblem *problem, const CwFitState *state, CwNull *list)
{
  size_t bands = problem->bands->bands, n = problem->bands->outputs, count = 0;
  CwComplex *drive = cw_alloc_complex(n * bands);

  cw_fit_drives(problem, state, NULL, drive, NULL);
  for (size_t side = 0; side < 2; side++) {
    if (cw_fit_leaves_out(problem, (CwSum)side))
      continue;
    SideSum sum = {cw_alloc_real(bands), cw_alloc_real(bands), cw_alloc_real(n * bands)};
    sum_side(problem, drive, side, &sum);
    count = find_in_side(problem, &sum, side == 0 ? CW_SIDE_LEFT : CW_SIDE_RIGHT, list, count);
    cw_free(sum.power);
    cw_free(sum.whole);
    cw_free(sum.own);
  }
  qsort(list, count, sizeof *list, deeper_first);
  cw_free(drive);
  return count;
}
