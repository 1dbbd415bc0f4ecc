/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/lead_fit.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TOP_HZ 18500.0 /* above it the players' own filters show */
#define LEAST_SNR 10.0 /* of a point that is used, amplitude */
#define LEAST_POINTS 24
#define DEEPEST_DB 55.0
#define FLOOR 0.002         /* relative error of a point from all causes but noise */
#define FLOOR_DEPTH_DB 12.0 /* decibels below the top at which that error doubles */
#define SEARCH_TURNS 0.27   /* of the highest frequency in a step of delay */
#define CLIFF_DB 5.0        /* from one point to the next: 120 dB an octave */
#define CLIFF_FROM_HZ 9000.0
#define CLIFF_MARGIN 3 /* points that the mean over neighbouring bins spoils */
#define MOST_SHAPES 9
#define ROUNDS 30
#define DONE_CHI 0.6    /* mean squared weighted error below which another part has nothing to find */
#define COUPLING_HZ 1.0 /* where the search for the recorder's own high-pass starts */

typedef struct {
  double hz[CW_LEAD_POINTS], weight[CW_LEAD_POINTS], db[CW_LEAD_POINTS];
  size_t first, last; /* usable points, inclusive */
  double top_db;
  CwModelTarget target;
} Look;

static int rising(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* The level that only a tenth of the usable points exceed. */
static double top_of(const double *db, size_t first, size_t last)
{
  double sorted[CW_LEAD_POINTS];
  size_t n = last - first + 1;

  memcpy(sorted, db + first, n * sizeof *sorted);
  qsort(sorted, n, sizeof *sorted, rising);
  return sorted[(size_t)(0.9 * (double)(n - 1))];
}

/* Ends the stretch before a fall that no filter of the radio has, as a lossy codec leaves one: it turns no
 * phase, which the model would not know. */
static void cut_cliff(Look *look)
{
  for (size_t i = look->first + 1; i <= look->last; i++)
    if (look->hz[i] > CLIFF_FROM_HZ && look->db[i - 1] - look->db[i] > CLIFF_DB) {
      look->last = i - 1 > look->first + CLIFF_MARGIN ? i - 1 - CLIFF_MARGIN : look->first;
      return;
    }
}

/* The stretch around the loudest point in which every point stands above noise, and its weights. */
static bool look_at(const CwLeadResponse *r, Look *look)
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
    look->weight[i] = 1 / hypot(FLOOR * (1 + depth * depth), relative);
  }
  look->target = (CwModelTarget){CW_LEAD_POINTS, look->hz, r->value, look->weight};
  return look->last - look->first + 1 >= LEAST_POINTS;
}

/* Slope in multiples of 6.02 dB an octave of warped frequency over the outermost points of the usable
 * stretch, outward being positive. */
static double skirt_slope(const Look *look, bool low, double rate_hz)
{
  size_t reach = CW_LEAD_PER_OCTAVE / 3, edge = low ? look->first : look->last,
         inner = low ? edge + reach : edge - reach;
  double octaves = log2(tan(M_PI * look->hz[inner] / rate_hz) / tan(M_PI * look->hz[edge] / rate_hz));
  return (look->db[inner] - look->db[edge]) / fabs(octaves) / 6.0206;
}

/* Where the response, coming from outside, first stands depth_db below the top. */
static double skirt_hz(const Look *look, bool low, double depth_db)
{
  size_t i = low ? look->first : look->last;
  while (i != (low ? look->last : look->first) && look->db[i] < look->top_db - depth_db)
    i = low ? i + 1 : i - 1;
  return look->hz[i];
}

static int skirt_order(const Look *look, bool low, double rate_hz)
{
  double fall = look->top_db - look->db[low ? look->first : look->last];
  int order = (int)lrint(skirt_slope(look, low, rate_hz));
  return fall < 5 || order < 1 ? 0 : order > 8 ? 8 : order;
}

static void add_skirt(CwLeadModel *m, bool low, int order, double hz)
{
  for (int k = 0; k < order / 2; k++)
    cw_lead_model_add(m, low ? CW_PART_HIGH_PASS : CW_PART_LOW_PASS, hz,
                      1 / (2 * sin((2 * k + 1) * M_PI / (2 * order))));
  if (order % 2)
    cw_lead_model_add(m, low ? CW_PART_HIGH_PASS_FIRST : CW_PART_LOW_PASS_FIRST, hz, 1);
}

/* The mean squared weighted error of one kind of row, and where its smoothed course is farthest from nothing.
 */
static double chi(const Look *look, const double *error, size_t *worst)
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

static double magnitude_chi(const CwLeadModel *m, const Look *look, double *error, size_t *worst)
{
  cw_lead_model_errors(m, &look->target, error, NULL);
  return chi(look, error, worst);
}

/* Adds shapes where the magnitude is farthest off until nothing but noise is left. */
static double add_shapes(CwLeadModel *m, const Look *look, size_t most)
{
  double error[CW_LEAD_POINTS], now;
  size_t worst = 0;

  for (size_t shapes = 0;; shapes++) {
    now = magnitude_chi(m, look, error, &worst);
    if (now < DONE_CHI || shapes == most)
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

static double fit_magnitude(CwLeadModel *m, const Look *look, double rate_hz, int low_order, int high_order,
                            size_t shapes)
{
  *m = cw_lead_model_new(rate_hz, pow(10, look->top_db / 20));
  if (look->hz[look->first] < 40)
    cw_lead_model_add(m, CW_PART_HIGH_PASS_FIRST, COUPLING_HZ, 1);
  add_skirt(m, true, low_order, skirt_hz(look, true, 1.5 * low_order));
  add_skirt(m, false, high_order, skirt_hz(look, false, 1.5 * high_order));
  cw_lead_model_fit(m, &look->target, false, ROUNDS);
  return add_shapes(m, look, shapes);
}

/* The best orders of the two skirts: the slopes' own, and their neighbours if those leave errors. */
static void choose_magnitude(CwLeadModel *m, const Look *look, double rate_hz)
{
  static const int around[] = {1, -1, 2, -2};
  int low = skirt_order(look, true, rate_hz), high = skirt_order(look, false, rate_hz);
  double best = fit_magnitude(m, look, rate_hz, low, high, MOST_SHAPES);

  for (int side = 0; side < 2 && best > DONE_CHI; side++)
    for (size_t k = 0; k < 4 && best > DONE_CHI; k++) {
      int other_low = low + (side ? 0 : around[k]), other_high = high + (side ? around[k] : 0);
      CwLeadModel other;
      if (other_low < 0 || other_high < 0 || other_low > 8 || other_high > 8)
        continue;
      double now = fit_magnitude(&other, look, rate_hz, other_low, other_high, MOST_SHAPES);
      if (now < 0.7 * best) {
        best = now;
        *m = other;
      }
    }
}

/* What the phase holds beyond the model's minimum phase, as unit vectors. */
static void excess_of(const CwLeadModel *m, const Look *look, CwComplex *excess)
{
  cw_lead_model_response(m, look->hz, CW_LEAD_POINTS, true, excess);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    CwComplex ratio = look->target.value[i] / excess[i];
    excess[i] = cabs(ratio) > 0 ? ratio / cabs(ratio) : 0;
  }
}

/* The delay from low to high at which the excess phase adds up best; the sum, signed by polarity, over its
 * largest possible value. */
static double coherent_delay(const Look *look, const CwComplex *excess, double low, double high, double step,
                             double *delay)
{
  CwComplex now[CW_LEAD_POINTS], turn[CW_LEAD_POINTS];
  double total = 0, best = 0;

  for (size_t i = look->first; i <= look->last; i++) {
    double weight = fmin(look->weight[i] * FLOOR, 1);
    total += weight;
    now[i] = weight * excess[i] * cexp(2 * M_PI * I * look->hz[i] * low);
    turn[i] = cexp(2 * M_PI * I * look->hz[i] * step);
  }
  for (double d = low; d <= high; d += step) {
    double sum = 0;
    for (size_t i = look->first; i <= look->last; i++) {
      sum += creal(now[i]);
      now[i] *= turn[i];
    }
    if (fabs(sum) > fabs(best)) {
      best = sum;
      *delay = d;
    }
  }
  return best / total;
}

static void set_delay(CwLeadModel *m, double seconds, double signed_part)
{
  m->var[1] = seconds / CW_MODEL_DELAY_SECONDS;
  m->polarity = signed_part < 0 ? -1 : 1;
}

/* Fits magnitude and phase together, adds a few shapes if that leaves errors, and returns the phase's chi. */
static double fit_all(CwLeadModel *m, const Look *look)
{
  double phase[CW_LEAD_POINTS];

  cw_lead_model_fit(m, &look->target, true, 2 * ROUNDS);
  cw_lead_model_errors(m, &look->target, NULL, phase);
  return chi(look, phase, NULL);
}

/* The all-pass that makes the excess phase most coherent with a delay. */
static double search_all_pass(const Look *look, const CwComplex *excess, double *hz, double *q, double *delay,
                              double *signed_part)
{
  static const double qs[] = {0.4, 0.6, 0.85, 1.2, 1.8, 3};
  double best = 0, top = look->hz[look->last], step = SEARCH_TURNS / top,
         early = fmax(4e-3, 8 / top); /* a woofer's peak comes late */
  CwComplex left[CW_LEAD_POINTS];

  for (double at = look->hz[look->first] * 1.3; at < look->hz[look->last] / 1.3; at *= exp2(0.25))
    for (size_t k = 0; k < sizeof qs / sizeof *qs; k++) {
      double d = 0, part;
      for (size_t i = look->first; i <= look->last; i++) {
        double u = look->hz[i] / at;
        CwComplex quad = 1 - u * u + I * u / qs[k];
        left[i] = excess[i] * quad / conj(quad);
      }
      part = coherent_delay(look, left, -early, 4e-3, step, &d);
      if (fabs(part) > best) {
        best = fabs(part);
        *signed_part = part;
        *hz = at;
        *q = qs[k];
        *delay = d;
      }
    }
  return best;
}

#define UNEXPLAINED_CHI                                                                                      \
  400.0 /* of the phase in the end: above it something is there that no part of the model is */
#define SUSPECT_CHI 4.0       /* of the phase without an all-pass: below it there is none */
#define LEAST_ALL_PASS_Q 0.35 /* broader or narrower ones are the fit's way of bending a phase */
#define MOST_ALL_PASS_Q 10.0
#define BETTER_FACTOR 6.0 /* by which an all-pass must lower it */

/* Returns what is left of the phase in the end. */
static double try_all_pass(CwLeadFit *fit, const CwLeadModel *minimum, const Look *look,
                           const CwComplex *excess, double without)
{
  CwLeadModel with = *minimum;
  double hz = 0, q = 0, delay = 0, part = 0, phase;

  if (search_all_pass(look, excess, &hz, &q, &delay, &part) == 0)
    return without;
  cw_lead_model_add(&with, CW_PART_ALL_PASS, hz, q);
  set_delay(&with, delay, part);
  phase = fit_all(&with, look);
  hz = cw_lead_model_part_hz(&with, with.parts - 1);
  q = cw_lead_model_part_q(&with, with.parts - 1);
  if (phase * BETTER_FACTOR > without || q < LEAST_ALL_PASS_Q || q > MOST_ALL_PASS_Q)
    return without;
  fit->model = with;
  fit->all_pass = true;
  fit->all_pass_hz = hz;
  fit->all_pass_q = q;
  return phase;
}

#define SURE_ERROR 0.2 /* radians, root mean square */
#define SURE_DEPTH_DB                                                                                        \
  25.0 /* below the top, of the response around an all-pass: further out it cannot be told from delay and    \
          polarity */

/* Is the all-pass, if there is one, where the lead carries something? */
static bool all_pass_is_inside(const CwLeadFit *fit, const Look *look)
{
  size_t i = look->first;
  while (fit->all_pass && i < look->last && look->hz[i] < fit->all_pass_hz)
    i++;
  return !fit->all_pass || look->db[i] > look->top_db - SURE_DEPTH_DB;
}

CwLeadFit cw_lead_fit(const CwLeadResponse *response, double rate_hz)
{
  CwLeadFit fit = {0};
  CwComplex excess[CW_LEAD_POINTS];
  double error[CW_LEAD_POINTS], phase[CW_LEAD_POINTS], delay = 0, part, weight = 0, squares = 0,
                                                       phase_squares = 0;
  CwLeadModel minimum;
  Look look;

  if (!look_at(response, &look))
    return fit;
  fit.known = true;
  choose_magnitude(&minimum, &look, rate_hz);
  excess_of(&minimum, &look, excess);
  part = coherent_delay(&look, excess, -15e-3, 8e-3, 10e-6, &delay);
  fit.model = minimum;
  set_delay(&fit.model, delay, part);
  double unexplained = fit_all(&fit.model, &look);
  if (unexplained > SUSPECT_CHI)
    unexplained = try_all_pass(&fit, &minimum, &look, excess, unexplained);
  cw_lead_model_errors(&fit.model, &look.target, error, phase);
  for (size_t i = look.first; i <= look.last; i++) {
    weight += look.weight[i] * look.weight[i];
    squares += pow(look.weight[i] * error[i], 2);
    phase_squares += pow(look.weight[i] * phase[i], 2);
  }
  fit.magnitude_error = sqrt(squares / weight);
  fit.phase_error = sqrt(phase_squares / weight);
  fit.delay_seconds = response->peak_seconds + cw_lead_model_delay_seconds(&fit.model);
  fit.polarity = fit.model.polarity;
  fit.sure = fit.phase_error < SURE_ERROR && unexplained < UNEXPLAINED_CHI && all_pass_is_inside(&fit, &look);
  return fit;
}
