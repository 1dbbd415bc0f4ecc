/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/leads/lead_magnitude.h"
#include "signal/sort.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TOP_HZ 18500.0 /* above it the players' own filters show */
#define LEAST_SNR 10.0 /* of a point that is used, amplitude */
#define LEAST_POINTS 24
#define DEEPEST_DB 55.0
#define FLOOR_DEPTH_DB 12.0 /* decibels below the top at which that error doubles */
#define CLIFF_DB 5.0        /* from one point to the next: 120 dB an octave */
#define CLIFF_FROM_HZ 9000.0
#define CLIFF_MARGIN 3 /* points that the mean over neighbouring bins spoils */
#define MOST_SHAPES 9
#define ROUNDS 30
#define BAND_LIMITED_HZ                                                                                      \
  9000.0          /* the delay of a lead that ends below is softer than what a shape beyond it could feign */
#define FREE (-1) /* of a skirt: its sections are of no family */
#define HELD_DONE 0.05  /* the same for a model whose skirts cannot bend */
#define HELD_CHI 0.3    /* below it such a model is believed, whatever a free one reaches */
#define DONE_CHI 0.6    /* mean squared weighted error below which another part has nothing to find */
#define COUPLING_HZ 1.0 /* where the search for the recorder's own high-pass starts */

/* The level that only a tenth of the usable points exceed. */
static double top_of(const double *db, size_t first, size_t last)
{
  double sorted[CW_LEAD_POINTS];
  size_t n = last - first + 1;

  memcpy(sorted, db + first, n * sizeof *sorted);
  cw_sort_rising(sorted, n);
  return sorted[(size_t)(0.9 * (double)(n - 1))];
}

/* Ends the stretch before a fall that no filter of the radio has, as a lossy codec leaves one: it turns no
 * phase, which the model would not know. */
static void cut_cliff(CwLeadLook *look)
{
  for (size_t i = look->first + 1; i <= look->last; i++)
    if (look->hz[i] > CLIFF_FROM_HZ && look->db[i - 1] - look->db[i] > CLIFF_DB) {
      look->last = i - 1 > look->first + CLIFF_MARGIN ? i - 1 - CLIFF_MARGIN : look->first;
      return;
    }
}

bool cw_lead_look_at(const CwLeadResponse *r, CwLeadLook *look)
{
  size_t loudest = 0;
  bool found = false;

  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    double size = cabs(r->value[i]);
    look->hz[i] = cw_lead_hz(i);
    look->db[i] = 20 * log10(size + 1e-30);
    look->weight[i] = 0;
    if (look->hz[i] <= TOP_HZ && size > LEAST_SNR * r->noise[i] &&
        (!found || size > cabs(r->value[loudest]))) {
      loudest = i;
      found = true;
    }
  }
  if (!found)
    return false;
  look->first = look->last = loudest;
  while (look->first > 0 && cabs(r->value[look->first - 1]) > LEAST_SNR * r->noise[look->first - 1] &&
         look->db[look->first - 1] > look->db[loudest] - DEEPEST_DB)
    look->first--;
  while (look->last + 1 < CW_LEAD_POINTS && look->hz[look->last + 1] <= TOP_HZ &&
         cabs(r->value[look->last + 1]) > LEAST_SNR * r->noise[look->last + 1] &&
         look->db[look->last + 1] > look->db[loudest] - DEEPEST_DB)
    look->last++;
  cut_cliff(look);
  look->top_db = top_of(look->db, look->first, look->last);
  for (size_t i = look->first; i <= look->last; i++) {
    double depth = fmax(look->top_db - look->db[i], 0) / FLOOR_DEPTH_DB,
           relative = r->noise[i] / cabs(r->value[i]);
    look->weight[i] = 1 / hypot(CW_LEAD_FLOOR * (1 + depth * depth), relative);
  }
  look->target = (CwModelTarget){CW_LEAD_POINTS, look->hz, r->value, look->weight};
  return look->last - look->first + 1 >= LEAST_POINTS;
}

/* Slope in multiples of 6.02 dB an octave of warped frequency over the outermost points of the usable
 * stretch, outward being positive. */
static double skirt_slope(const CwLeadLook *look, bool low, double rate_hz)
{
  size_t reach = CW_LEAD_PER_OCTAVE / 3, edge = low ? look->first : look->last,
         inner = low ? edge + reach : edge - reach;
  double octaves = log2(tan(M_PI * look->hz[inner] / rate_hz) / tan(M_PI * look->hz[edge] / rate_hz));
  return (look->db[inner] - look->db[edge]) / fabs(octaves) / 6.0206;
}

/* Where the response, coming from outside, first stands depth_db below the top. */
static double skirt_hz(const CwLeadLook *look, bool low, double depth_db)
{
  size_t i = low ? look->first : look->last;
  while (i != (low ? look->last : look->first) && look->db[i] < look->top_db - depth_db)
    i = low ? i + 1 : i - 1;
  return look->hz[i];
}

static int skirt_order(const CwLeadLook *look, bool low, double rate_hz)
{
  double fall = look->top_db - look->db[low ? look->first : look->last];
  int order = (int)lrint(skirt_slope(look, low, rate_hz));
  return fall < 5 || order < 1 ? 0 : order > 8 ? 8 : order;
}

/* A skirt of a family, or of free sections where FREE or where the family has no such order. */
static void add_skirt(CwLeadModel *m, bool low, int order, double hz, int family)
{
  if (family != FREE && order > 0 &&
      cw_lead_model_add_filter(m, (CwFilterFamily)family, low ? CW_HIGH_PASS : CW_LOW_PASS, order, hz))
    return;
  for (int k = 0; k < order / 2; k++)
    cw_lead_model_add(m, low ? CW_PART_HIGH_PASS : CW_PART_LOW_PASS, hz,
                      1 / (2 * sin((2 * k + 1) * M_PI / (2 * order))));
  if (order % 2)
    cw_lead_model_add(m, low ? CW_PART_HIGH_PASS_FIRST : CW_PART_LOW_PASS_FIRST, hz, 1);
}

double cw_lead_chi(const CwLeadLook *look, const double *error, size_t *worst)
{
  double sum = 0, most = -1;
  size_t used = 0;

  for (size_t i = look->first; i <= look->last; i++) {
    double smooth = 0, weight = 0;
    sum += pow(look->weight[i] * error[i], 2);
    used++;
    for (size_t k = i >= look->first + 2 ? i - 2 : look->first; k <= i + 2 && k <= look->last; k++) {
      smooth += look->weight[k] * error[k];
      weight += 1;
    }
    if (worst && fabs(smooth / weight) > most) {
      most = fabs(smooth / weight);
      *worst = i;
    }
  }
  return sum / (double)used;
}

static double magnitude_chi(const CwLeadModel *m, const CwLeadLook *look, double *error, size_t *worst)
{
  cw_lead_model_errors(m, &look->target, error, NULL);
  return cw_lead_chi(look, error, worst);
}

/* Adds shapes where the magnitude is farthest off until nothing but noise is left. */
static double add_shapes(CwLeadModel *m, const CwLeadLook *look, size_t most, double done)
{
  double error[CW_LEAD_POINTS], now;
  size_t worst = 0;

  for (size_t shapes = 0;; shapes++) {
    now = magnitude_chi(m, look, error, &worst);
    if (now < done || shapes == most)
      return now;
    CwLeadModel before = *m;
    cw_lead_model_add_shape(m, look->hz[worst], fmin(fmax(error[worst] * 20 / M_LN10, -6), 6), 1.4);
    cw_lead_model_fit(m, &look->target, false, ROUNDS);
    if (magnitude_chi(m, look, error, NULL) > 0.98 * now) {
      *m = before;
      return now;
    }
  }
}

static double fit_magnitude(CwLeadModel *m, const CwLeadLook *look, double rate_hz, int low_order,
                            int high_order, size_t shapes, const int *family, double done)
{
  *m = cw_lead_model_new(rate_hz, pow(10, look->top_db / 20));
  if (look->hz[look->last] < BAND_LIMITED_HZ)
    m->shape_most_hz = look->hz[look->last];
  if (look->hz[look->first] < 40)
    cw_lead_model_add(m, CW_PART_HIGH_PASS_FIRST, COUPLING_HZ, 1);
  add_skirt(m, true, low_order, skirt_hz(look, true, 1.5 * low_order), family[0]);
  add_skirt(m, false, high_order, skirt_hz(look, false, 1.5 * high_order), family[1]);
  cw_lead_model_fit(m, &look->target, false, ROUNDS);
  return add_shapes(m, look, shapes, done);
}

/* Free sections can bend so that the magnitude hardly tells, and their delay goes with them: where the skirts
 * of a known family do about as well, they are right. */
static void hold_skirts(CwLeadModel *m, const CwLeadLook *look, double rate_hz, int low_order, int high_order,
                        double free_chi)
{
  static const int families[] = {CW_FILTER_BUTTERWORTH, CW_FILTER_LINKWITZ_RILEY, CW_FILTER_BESSEL};
  double best = fmax(free_chi, HELD_CHI);
  for (int l = 0; l < (low_order > 1 ? 3 : 1); l++)
    for (int h = 0; h < (high_order > 1 ? 3 : 1); h++) {
      const int family[] = {families[l], families[h]};
      CwLeadModel held;
      double now = fit_magnitude(&held, look, rate_hz, low_order, high_order, MOST_SHAPES, family, HELD_DONE);
      if (now < best) {
        best = now;
        *m = held;
      }
    }
}

void cw_lead_choose_magnitude(CwLeadModel *m, const CwLeadLook *look, double rate_hz)
{
  static const int around[] = {1, -1, 2, -2};
  int low = skirt_order(look, true, rate_hz), high = skirt_order(look, false, rate_hz);
  const int free_skirts[] = {FREE, FREE};
  double best = fit_magnitude(m, look, rate_hz, low, high, MOST_SHAPES, free_skirts, DONE_CHI);
  int best_low = low, best_high = high;

  for (int side = 0; side < 2 && best > DONE_CHI; side++)
    for (size_t k = 0; k < 4 && best > DONE_CHI; k++) {
      int other_low = low + (side ? 0 : around[k]), other_high = high + (side ? around[k] : 0);
      CwLeadModel other;
      if (other_low < 0 || other_high < 0 || other_low > 8 || other_high > 8)
        continue;
      double now =
          fit_magnitude(&other, look, rate_hz, other_low, other_high, MOST_SHAPES, free_skirts, DONE_CHI);
      if (now < 0.7 * best) {
        best = now;
        best_low = other_low;
        best_high = other_high;
        *m = other;
      }
    }
  if (look->hz[look->last] < BAND_LIMITED_HZ)
    hold_skirts(m, look, rate_hz, best_low, best_high, best);
}
