/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit_model.h"
#include <math.h>
#include <string.h>

#define GAIN_MOST_DB 40.0
#define BEYOND_CORNER 1.7 /* how far a section may wander outside the crossovers: it is not to undo them */

#define GAIN_LEAST_DB (-60.0)

/* Of all-pass sections: narrower ones ring, and turn the phase where no two places agree. */
#define ALL_PASS_Q_LEAST 0.5
#define ALL_PASS_Q_MOST 2.5
#define ALL_PASS_LEAST_HZ 60.0
#define ALL_PASS_MOST_HZ 3000.0

CwFitState *cw_fit_state_new(size_t outputs)
{
  CwFitState *state = cw_alloc_bytes(sizeof *state);

  state->outputs = outputs;
  state->setting = cw_alloc_bytes(outputs * sizeof *state->setting);
  state->corner_least_hz = cw_alloc_real(2 * outputs);
  state->corner_most_hz = cw_alloc_real(2 * outputs);
  state->delay_most_seconds = cw_alloc_real(outputs);
  state->gain_least_db = cw_alloc_real(outputs);
  state->gain_most_db = cw_alloc_real(outputs);
  for (size_t o = 0; o < outputs; o++)
    state->gain_most_db[o] = GAIN_MOST_DB;
  for (size_t o = 0; o < outputs; o++)
    state->gain_least_db[o] = GAIN_LEAST_DB;
  return state;
}

CwFitState *cw_fit_state_copy(const CwFitState *state)
{
  CwFitState *copy = cw_fit_state_new(state->outputs);

  cw_fit_state_assign(copy, state);
  return copy;
}

void cw_fit_state_assign(CwFitState *state, const CwFitState *from)
{
  memcpy(state->setting, from->setting, from->outputs * sizeof *state->setting);
  memcpy(state->corner_least_hz, from->corner_least_hz, 2 * from->outputs * sizeof(double));
  memcpy(state->corner_most_hz, from->corner_most_hz, 2 * from->outputs * sizeof(double));
  memcpy(state->gain_least_db, from->gain_least_db, from->outputs * sizeof(double));
  memcpy(state->gain_most_db, from->gain_most_db, from->outputs * sizeof(double));
  memcpy(state->delay_most_seconds, from->delay_most_seconds, from->outputs * sizeof(double));
}

void cw_fit_state_free(CwFitState *state)
{
  if (!state)
    return;
  cw_free(state->setting);
  cw_free(state->corner_least_hz);
  cw_free(state->corner_most_hz);
  cw_free(state->gain_least_db);
  cw_free(state->gain_most_db);
  cw_free(state->delay_most_seconds);
  cw_free(state);
}

double cw_fit_q_most(const CwFitProblem *problem, double gain_db)
{
  const CwLimits *limits = &problem->limits;

  if (gain_db <= 0 || problem->lift_q_most <= 0)
    return limits->q_most;
  return fmax(fmin(problem->lift_q_most, limits->q_most), limits->q_least);
}

bool cw_fit_refuses_boost(const CwFitProblem *problem, size_t output, double hz)
{
  const CwBandMatrices *m = problem->bands;
  double at = log2(hz / m->hz[0]) * m->per_octave;

  if (problem->no_lift_below_hz && hz < problem->no_lift_below_hz[output])
    return true;
  if (!problem->no_boost || at < 0 || at > (double)(m->bands - 1))
    return false;
  return problem->no_boost[output * m->bands + (size_t)rint(at)];
}

static void add_var(CwFitVars *vars, CwVarKind kind, size_t output, size_t section, int mate, double value,
                    double least, double most, double stride)
{
  vars->var[vars->count++] = (CwFitVar){kind, output, section, mate, value, least, most, stride};
}

static void add_corner(const CwFitState *state, CwFitVars *vars, CwVarKind kind, size_t o, int mate,
                       const CwCrossoverSetting *corner)
{
  size_t at = 2 * o + (kind == CW_VAR_LOW_PASS);
  if (corner->order > 0 && state->corner_most_hz[at] > state->corner_least_hz[at])
    add_var(vars, kind, o, 0, mate, log(corner->corner_hz), log(state->corner_least_hz[at]),
            log(state->corner_most_hz[at]), 0.15);
}

static void add_all_pass(const CwFitProblem *problem, size_t o, size_t k, const CwSection *section,
                         CwFitVars *vars)
{
  /* One that was set by hand may stand further out, and stays there as long as it wants. */
  double least =
             fmin(section->q, fmin(fmax(ALL_PASS_Q_LEAST, problem->limits.q_least), problem->limits.q_most)),
         most = fmax(section->q, fmax(least, fmin(ALL_PASS_Q_MOST, problem->limits.q_most))),
         hz = section->frequency_hz;

  if (!(problem->held & CW_FIT_SECTION_HZ))
    add_var(vars, CW_VAR_SECTION_HZ, o, k, -1, log(hz), log(fmin(hz, ALL_PASS_LEAST_HZ)),
            log(fmax(hz, ALL_PASS_MOST_HZ)), 0.2);
  if (!(problem->held & CW_FIT_SECTION_Q))
    add_var(vars, CW_VAR_SECTION_Q, o, k, -1, log(section->q), log(least), log(most), 0.3);
}

static void add_sections(const CwFitProblem *problem, const CwFitState *state, size_t o, CwFitVars *vars)
{
  const CwLimits *limits = &problem->limits;
  const CwOutputSetting *s = &state->setting[o];
  double top = fmin(0.42 * limits->rate_hz, 20000),
         low = s->high_pass.order ? fmax(20, s->high_pass.corner_hz / BEYOND_CORNER) : 20,
         high = s->low_pass.order ? fmin(top, BEYOND_CORNER * s->low_pass.corner_hz) : top;

  for (size_t k = 0; k < s->sections; k++) {
    const CwSection *section = &s->section[k];
    double hz = section->frequency_hz;
    double most = cw_fit_refuses_boost(problem, o, section->frequency_hz)
                      ? fmin(0, limits->section_gain_most_db)
                      : limits->section_gain_most_db;
    if (section->kind == CW_SECTION_ALL_PASS) {
      add_all_pass(problem, o, k, section, vars);
      continue;
    }
    if (!(problem->held & CW_FIT_SECTION_HZ))
      add_var(vars, CW_VAR_SECTION_HZ, o, k, -1, log(hz), log(fmin(hz, low)), log(fmax(hz, high)), 0.2);
    if (!(problem->held & CW_FIT_SECTION_GAIN))
      add_var(vars, CW_VAR_SECTION_GAIN, o, k, -1, section->gain_db, limits->section_gain_least_db, most, 4);
    if (!(problem->held & CW_FIT_SECTION_Q))
      add_var(vars, CW_VAR_SECTION_Q, o, k, -1, log(section->q), log(limits->q_least),
              log(cw_fit_q_most(problem, section->gain_db)), 0.4);
  }
}

CwFitVars cw_fit_vars_read(const CwFitProblem *problem, const CwFitState *state)
{
  CwFitVars vars = {0};

  vars.var = cw_alloc_bytes(state->outputs * (4 + 3 * CW_SETTING_MOST_SECTIONS) * sizeof *vars.var);
  for (size_t o = 0; o < state->outputs; o++) {
    const CwOutputSetting *s = &state->setting[o];
    int mate = problem->car->output[o].mate;
    if (!(problem->held & CW_FIT_GAIN))
      add_var(&vars, CW_VAR_GAIN, o, 0, -1, s->gain_db, state->gain_least_db[o], state->gain_most_db[o], 4);
    add_sections(problem, state, o, &vars);
    if (mate >= 0 && (size_t)mate < o) /* what a pair shares stands with the first of it */
      continue;
    if (!(problem->held & CW_FIT_CORNER)) {
      add_corner(state, &vars, CW_VAR_HIGH_PASS, o, mate, &s->high_pass);
      add_corner(state, &vars, CW_VAR_LOW_PASS, o, mate, &s->low_pass);
    }
    if (state->delay_most_seconds[o] > 0 && !(problem->held & CW_FIT_DELAY)) {
      double most = state->delay_most_seconds[o] / CW_DELAY_UNIT_SECONDS;
      add_var(&vars, CW_VAR_DELAY, o, 0, mate, s->delay_seconds / CW_DELAY_UNIT_SECONDS, -most, most, 4);
    }
  }
  return vars;
}

void cw_fit_vars_clear(CwFitVars *vars)
{
  cw_free(vars->var);
  vars->var = NULL;
  vars->count = 0;
}

static void write_one(const CwFitVar *v, CwOutputSetting *s)
{
  switch (v->kind) {
  case CW_VAR_GAIN:
    s->gain_db = v->value;
    break;
  case CW_VAR_SECTION_HZ:
    s->section[v->section].frequency_hz = exp(v->value);
    break;
  case CW_VAR_SECTION_GAIN:
    s->section[v->section].gain_db = v->value;
    break;
  case CW_VAR_SECTION_Q:
    s->section[v->section].q = exp(v->value);
    break;
  case CW_VAR_HIGH_PASS:
    s->high_pass.corner_hz = exp(v->value);
    break;
  case CW_VAR_LOW_PASS:
    s->low_pass.corner_hz = exp(v->value);
    break;
  case CW_VAR_DELAY:
  default:
    s->delay_seconds = v->value * CW_DELAY_UNIT_SECONDS;
  }
}

void cw_fit_vars_write(const CwFitVars *vars, CwFitState *state)
{
  for (size_t i = 0; i < vars->count; i++) {
    write_one(&vars->var[i], &state->setting[vars->var[i].output]);
    if (vars->var[i].mate >= 0)
      write_one(&vars->var[i], &state->setting[vars->var[i].mate]);
  }
}

/* A peaking section in the bilinear transform's own frequency: H = (x + j y A) / (x + j y / A) with x = 1 -
 * u^2, y = u / Q and u the ratio of tan(w / 2) to tan(w0 / 2). Multiplies into drive; slopes are to log
 * frequency, gain in dB, log Q. */
static void run_peaking(const CwSection *s, double rate_hz, const double *tangent, size_t bands,
                        CwComplex *drive, CwComplex *slope_hz, CwComplex *slope_gain, CwComplex *slope_q)
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

/* The same for an all-pass section: H = (x - j y) / (x + j y); it has no gain to move. */
static void run_all_pass(const CwSection *s, double rate_hz, const double *tangent, size_t bands,
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

void cw_fit_drives(const CwFitProblem *problem, const CwFitState *state, const CwFitVars *vars,
                   CwComplex *drive, CwComplex *slope)
{
  size_t bands = problem->bands->bands;
  double *tangent = cw_alloc_real(bands), rate = problem->limits.rate_hz;
  CwComplex *spare = slope ? cw_alloc_complex(3 * bands) : NULL, *slot[3] = {NULL};

  for (size_t b = 0; b < bands; b++)
    tangent[b] = tan(M_PI * problem->bands->hz[b] / rate);
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
      if (s->section[k].kind == CW_SECTION_ALL_PASS)
        run_all_pass(&s->section[k], rate, tangent, bands, d, slot[0], slot[2]);
      else
        run_peaking(&s->section[k], rate, tangent, bands, d, slot[0], slot[1], slot[2]);
    }
  }
  cw_free(spare);
  cw_free(tangent);
}
