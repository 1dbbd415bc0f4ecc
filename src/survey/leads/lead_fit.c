/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/leads/lead_fit.h"
#include "survey/leads/lead_magnitude.h"
#include <math.h>

#define SEARCH_TURNS 0.27 /* of the highest frequency in a step of delay */
#define ROUNDS 30

/* What the phase holds beyond the model's minimum phase, as unit vectors. */
static void excess_of(const CwLeadModel *m, const CwLeadLook *look, CwComplex *excess)
{
  cw_lead_model_response(m, look->hz, CW_LEAD_POINTS, true, excess);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    CwComplex ratio = look->target.value[i] / excess[i];
    excess[i] = cabs(ratio) > 0 ? ratio / cabs(ratio) : 0;
  }
}

/* The delay from low to high at which the excess phase adds up best; the sum, signed by polarity, over its
 * largest possible value. */
static double coherent_delay(const CwLeadLook *look, const CwComplex *excess, double low, double high,
                             double step, double *delay)
{
  CwComplex now[CW_LEAD_POINTS], turn[CW_LEAD_POINTS];
  double total = 0, best = 0;

  for (size_t i = look->first; i <= look->last; i++) {
    double weight = fmin(look->weight[i] * CW_LEAD_FLOOR, 1);
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
static double fit_all(CwLeadModel *m, const CwLeadLook *look)
{
  double phase[CW_LEAD_POINTS];

  cw_lead_model_fit(m, &look->target, true, 2 * ROUNDS);
  cw_lead_model_errors(m, &look->target, NULL, phase);
  return cw_lead_chi(look, phase, NULL);
}

/* The all-pass that makes the excess phase most coherent with a delay. */
static double search_all_pass(const CwLeadLook *look, const CwComplex *excess, double *hz, double *q,
                              double *delay, double *signed_part)
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
static double try_all_pass(CwLeadFit *fit, const CwLeadModel *minimum, const CwLeadLook *look,
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
static bool all_pass_is_inside(const CwLeadFit *fit, const CwLeadLook *look)
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
  CwLeadLook look;

  if (!cw_lead_look_at(response, &look))
    return fit;
  fit.known = true;
  cw_lead_choose_magnitude(&minimum, &look, rate_hz);
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
  fit.delay_deviation_seconds = cw_lead_model_delay_deviation(&fit.model, &look.target);
  fit.polarity = fit.model.polarity;
  fit.sure = fit.phase_error < SURE_ERROR && unexplained < UNEXPLAINED_CHI && all_pass_is_inside(&fit, &look);
  return fit;
}
