/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/wide.h"
#include "tuning/fit/fit_model.h"
#include <math.h>

/* A peaking section in the bilinear transform's own frequency: H = (x + j y A) / (x + j y / A) with x = 1 -
 * u^2, y = u / Q and u the ratio of tan(w / 2) to tan(w0 / 2). Multiplies into drive; slopes are to log
 * frequency, gain in dB, log Q. */
CW_WIDE static void run_peaking(const CwSection *s, double rate_hz, const double *tangent, size_t bands,
                                CwComplex *drive, CwComplex *slope_hz, CwComplex *slope_gain,
                                CwComplex *slope_q)
{
  double w0 = 2 * M_PI * s->frequency_hz / rate_hz, scale = 1 / tan(w0 / 2), warp = -w0 / sin(w0),
         amplitude = pow(10, s->gain_db / 40);

  for (size_t b = 0; b < bands; b++) {
    double u = tangent[b] * scale, x = 1 - u * u, y = u / s->q, up = y * amplitude, down = y / amplitude;
    double over = 1 / (x * x + up * up), under = 1 / (x * x + down * down);
    CwComplex p = (x - I * up) * over,
              q = (x - I * down) * under; /* reciprocals of numerator and denominator */
    drive[b] *= (x + I * up) * q;
    if (!slope_hz)
      continue;
    CwComplex rise = I * up * p, fall = I * down * q;
    slope_hz[b] = warp * ((-2 * u * u + I * up) * p - (-2 * u * u + I * down) * q);
    slope_gain[b] = M_LN10 / 40 * (rise + fall);
    slope_q[b] = fall - rise;
  }
}

/* The same for a shelf: with t = sqrt(A) u / Q the low one is A (A - u^2 + j t) / (1 - A u^2 + j t), the high
 * one has A at the other two terms. */
CW_WIDE static void run_shelf(const CwSection *s, double rate_hz, const double *tangent, size_t bands,
                              CwComplex *drive, CwComplex *slope_hz, CwComplex *slope_gain,
                              CwComplex *slope_q)
{
  double w0 = 2 * M_PI * s->frequency_hz / rate_hz, scale = 1 / tan(w0 / 2), warp = -w0 / sin(w0),
         amplitude = pow(10, s->gain_db / 40), root = sqrt(amplitude);
  bool low = s->kind == CW_SECTION_LOW_SHELF;
  double n0 = low ? amplitude : 1, n2 = low ? 1 : amplitude, d0 = low ? 1 : amplitude,
         d2 = low ? amplitude : 1;

  for (size_t b = 0; b < bands; b++) {
    double u = tangent[b] * scale, t = root * u / s->q;
    CwComplex p = 1 / (n0 - n2 * u * u + I * t), q = 1 / (d0 - d2 * u * u + I * t);
    drive[b] *= amplitude * (n0 - n2 * u * u + I * t) * q;
    if (!slope_hz)
      continue;
    double n_rise = low ? amplitude : -amplitude * u * u, d_rise = low ? -amplitude * u * u : amplitude;
    slope_hz[b] = warp * ((-2 * n2 * u * u + I * t) * p - (-2 * d2 * u * u + I * t) * q);
    slope_gain[b] = M_LN10 / 40 * (1 + (n_rise + 0.5 * I * t) * p - (d_rise + 0.5 * I * t) * q);
    slope_q[b] = -I * t * (p - q);
  }
}

/* The same for an all-pass section: H = (x - j y) / (x + j y); it has no gain to move. */
CW_WIDE static void run_all_pass(const CwSection *s, double rate_hz, const double *tangent, size_t bands,
                                 CwComplex *drive, CwComplex *slope_hz, CwComplex *slope_q)
{
  double w0 = 2 * M_PI * s->frequency_hz / rate_hz, scale = 1 / tan(w0 / 2), warp = -w0 / sin(w0);

  for (size_t b = 0; b < bands; b++) {
    double u = tangent[b] * scale, x = 1 - u * u, y = u / s->q, over = 1 / (x * x + y * y);
    drive[b] *= (x - I * y) * (x - I * y) * over;
    if (!slope_hz)
      continue;
    /* log H = -2 j atan(y / x): the slopes are imaginary */
    slope_hz[b] = -2 * I * warp * (y * x + 2 * u * u * y) * over;
    slope_q[b] = 2 * I * x * y * over;
  }
}

/* Slopes of gain, corners and delay. Corners by a small difference: only two an output, and any family. */
static void shared_slopes(const CwFitProblem *problem, const CwFitState *state, const CwFitVars *vars,
                          CwComplex *slope)
{
  size_t bands = problem->bands->bands;
  CwComplex *moved = cw_alloc_complex(bands), *there = cw_alloc_complex(bands);
  const double step = 1e-6;

  for (size_t i = 0; i < vars->count; i++) {
    const CwFitVar *v = &vars->var[i];
    CwComplex *out = slope + i * bands;
    if (v->kind == CW_VAR_GAIN || v->kind == CW_VAR_DELAY) {
      for (size_t b = 0; b < bands; b++)
        out[b] = v->kind == CW_VAR_GAIN ? M_LN10 / 20
                                        : -2 * M_PI * I * problem->bands->hz[b] * CW_DELAY_UNIT_SECONDS;
    } else if (v->kind == CW_VAR_HIGH_PASS || v->kind == CW_VAR_LOW_PASS) {
      CwOutputSetting s = state->setting[v->output];
      cw_setting_crossover_response(&s, problem->limits.rate_hz, problem->bands->hz, bands, there);
      *(v->kind == CW_VAR_HIGH_PASS ? &s.high_pass.corner_hz : &s.low_pass.corner_hz) *= 1 + step;
      cw_setting_crossover_response(&s, problem->limits.rate_hz, problem->bands->hz, bands, moved);
      for (size_t b = 0; b < bands; b++)
        out[b] = (moved[b] - there[b]) / (there[b] * log1p(step));
    }
  }
  cw_free(moved);
  cw_free(there);
}

/* Where the slopes of a section's frequency, gain and Q go: to spare where they are held. The variables stand
 * in the order of outputs and sections, so *at only moves on. */
static void slots_of(const CwFitVars *vars, size_t output, size_t section, size_t bands, CwComplex *slope,
                     CwComplex *spare, size_t *at, CwComplex *slot[3])
{
  for (int i = 0; i < 3; i++)
    slot[i] = spare + (size_t)i * bands;
  for (; *at < vars->count; (*at)++) {
    const CwFitVar *v = &vars->var[*at];
    bool of_section =
        v->kind == CW_VAR_SECTION_HZ || v->kind == CW_VAR_SECTION_GAIN || v->kind == CW_VAR_SECTION_Q;
    if (v->output > output || (of_section && v->output == output && v->section > section))
      return;
    if (of_section && v->output == output && v->section == section)
      slot[v->kind - CW_VAR_SECTION_HZ] = slope + *at * bands;
  }
}

/* Kinds that the fit does not move (a notch, a filter of the hands) run as they are designed. */
static void run_as_designed(const CwSection *s, double rate_hz, const double *hz, size_t bands,
                            CwComplex *drive)
{
  CwCoefficients c;
  if (cw_section_design(s, rate_hz, &c))
    cw_cascade_response(&c, 1, rate_hz, hz, bands, true, drive);
}

static void run_section(const CwSection *s, double rate_hz, const double *hz, const double *tangent,
                        size_t bands, CwComplex *drive, CwComplex *const slot[3])
{
  switch (s->kind) {
  case CW_SECTION_ALL_PASS:
    run_all_pass(s, rate_hz, tangent, bands, drive, slot[0], slot[2]);
    break;
  case CW_SECTION_PEAKING:
    run_peaking(s, rate_hz, tangent, bands, drive, slot[0], slot[1], slot[2]);
    break;
  case CW_SECTION_LOW_SHELF:
  case CW_SECTION_HIGH_SHELF:
    run_shelf(s, rate_hz, tangent, bands, drive, slot[0], slot[1], slot[2]);
    break;
  default:
    run_as_designed(s, rate_hz, hz, bands, drive);
  }
}

void cw_fit_drives(const CwFitProblem *problem, const CwFitState *state, const CwFitVars *vars,
                   CwComplex *drive, CwComplex *slope)
{
  size_t bands = problem->bands->bands;
  double *tangent = cw_alloc_real(bands), rate = problem->limits.rate_hz;
  CwComplex *spare = slope ? cw_alloc_complex(3 * bands) : NULL, *slot[3] = {NULL};

  for (size_t b = 0; b < bands; b++)
    tangent[b] = problem->tangent ? problem->tangent[b] : tan(M_PI * problem->bands->hz[b] / rate);
  if (slope)
    shared_slopes(problem, state, vars, slope);
  for (size_t o = 0, at = 0; o < state->outputs; o++) {
    const CwOutputSetting *s = &state->setting[o];
    CwComplex *d = drive + o * bands;
    double gain = pow(10, s->gain_db / 20) * (s->inverted ? -1 : 1);
    cw_setting_crossover_response(s, rate, problem->bands->hz, bands, d);
    for (size_t b = 0; b < bands; b++)
      d[b] *= gain * cexp(-2 * M_PI * I * problem->bands->hz[b] * s->delay_seconds);
    for (size_t k = 0; k < s->sections; k++) {
      if (slope)
        slots_of(vars, o, k, bands, slope, spare, &at, slot);
      run_section(&s->section[k], rate, problem->bands->hz, tangent, bands, d, slot);
    }
  }
  cw_free(spare);
  cw_free(tangent);
}

void cw_fit_sections_db(const CwFitProblem *problem, const CwOutputSetting *setting, size_t step, double *db)
{
  size_t count = (problem->bands->bands + step - 1) / step;
  double *tangent = cw_alloc_real(count), *hz = cw_alloc_real(count), rate = problem->limits.rate_hz;
  CwComplex *drive = cw_alloc_complex(count), *const none[3] = {NULL};

  for (size_t k = 0; k < count; k++) {
    hz[k] = problem->bands->hz[k * step];
    tangent[k] = problem->tangent ? problem->tangent[k * step] : tan(M_PI * hz[k] / rate);
    drive[k] = 1;
  }
  for (size_t i = 0; i < setting->sections; i++)
    run_section(&setting->section[i], rate, hz, tangent, count, drive, none);
  for (size_t k = 0; k < count; k++)
    db[k] = 10 * log10(cw_fit_power(drive[k]) + 1e-60);
  cw_free(tangent);
  cw_free(hz);
  cw_free(drive);
}
