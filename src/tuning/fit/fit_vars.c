/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit_model.h"
#include <math.h>
#include <string.h>

#define BEYOND_CORNER                                                                                        \
  1.1 /* how far a section may stand outside the crossovers: slopes are made by the crossover */
#define SHELF_Q_MOST 0.9 /* steeper ones overshoot */

/* Of all-pass sections: narrower ones ring, and turn the phase where no two places agree. */
#define ALL_PASS_Q_LEAST 0.5
#define ALL_PASS_Q_MOST 2.5
#define ALL_PASS_LEAST_HZ 60.0
#define ALL_PASS_MOST_HZ 3000.0

double cw_fit_q_most(const CwFitProblem *problem, double gain_db)
{
  const CwLimits *limits = &problem->limits;

  double most = gain_db > 0 ? problem->lift_q_most : problem->cut_q_most;

  return most > 0 ? fmax(fmin(most, limits->q_most), limits->q_least) : limits->q_most;
}

void cw_fit_span(const CwFitProblem *problem, const CwOutputSetting *setting, double *low_hz, double *high_hz)
{
  double top = fmin(0.42 * problem->limits.rate_hz, 20000);

  *low_hz = fmax(setting->high_pass.order ? setting->high_pass.corner_hz / BEYOND_CORNER : 20, 20);
  *high_hz = fmin(setting->low_pass.order ? BEYOND_CORNER * setting->low_pass.corner_hz : top, top);
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

void cw_fit_room(const CwFitProblem *problem, const CwFitState *state, size_t o, size_t k, double *low,
                 double *high)
{
  const CwOutputSetting *s = &state->setting[o];
  double hz = s->section[k].frequency_hz, apart = exp2(0.5 * CW_FIT_APART_OCTAVES);

  cw_fit_span(problem, s, low, high);
  for (size_t j = 0; j < s->sections; j++) {
    double other = s->section[j].frequency_hz, middle = sqrt(other * hz);
    if (j == k || s->section[j].kind == CW_SECTION_ALL_PASS)
      continue;
    if (j < state->fixed[o]) /* that one does not give way */
      middle = other * (other < hz ? apart : 1 / apart);
    if (other < hz || (other == hz && j < k))
      *low = fmax(*low, middle * apart);
    else
      *high = fmin(*high, middle / apart);
  }
  *low = fmin(*low, hz);
  *high = fmax(*high, hz);
}

static bool is_shelf(const CwSection *section)
{
  return section->kind == CW_SECTION_LOW_SHELF || section->kind == CW_SECTION_HIGH_SHELF;
}

static void add_sections(const CwFitProblem *problem, const CwFitState *state, size_t o, CwFitVars *vars)
{
  const CwLimits *limits = &problem->limits;
  const CwOutputSetting *s = &state->setting[o];

  for (size_t k = state->fixed[o]; k < s->sections; k++) {
    const CwSection *section = &s->section[k];
    double hz = section->frequency_hz, low, high;
    double most = cw_fit_refuses_boost(problem, o, section->frequency_hz)
                      ? fmin(0, limits->section_gain_most_db)
                      : limits->section_gain_most_db;
    if (section->kind == CW_SECTION_ALL_PASS) {
      add_all_pass(problem, o, k, section, vars);
      continue;
    }
    cw_fit_room(problem, state, o, k, &low, &high);
    if (!(problem->held & CW_FIT_SECTION_HZ))
      add_var(vars, CW_VAR_SECTION_HZ, o, k, -1, log(hz), log(low), log(high), 0.2);
    if (!(problem->held & CW_FIT_SECTION_GAIN))
      add_var(vars, CW_VAR_SECTION_GAIN, o, k, -1, section->gain_db, limits->section_gain_least_db, most, 4);
    if (!(problem->held & CW_FIT_SECTION_Q))
      add_var(vars, CW_VAR_SECTION_Q, o, k, -1, log(section->q), log(limits->q_least),
              log(fmax(is_shelf(section) ? fmin(SHELF_Q_MOST, limits->q_most)
                                         : cw_fit_q_most(problem, section->gain_db),
                       limits->q_least)),
              0.4);
  }
}

/* What a pair shares is held for both where it is held for one. */
static unsigned held_of(const CwFitProblem *problem, const CwFitState *state, size_t o)
{
  int mate = problem->car->output[o].mate;
  return problem->held | state->held[o] | (mate >= 0 ? state->held[mate] : 0);
}

CwFitVars cw_fit_vars_read(const CwFitProblem *problem, const CwFitState *state)
{
  CwFitVars vars = {0};

  vars.var = cw_alloc_bytes(state->outputs * (4 + 3 * CW_SETTING_MOST_SECTIONS) * sizeof *vars.var);
  for (size_t o = 0; o < state->outputs; o++) {
    const CwOutputSetting *s = &state->setting[o];
    int mate = problem->car->output[o].mate;
    if (!((problem->held | state->held[o]) & CW_FIT_GAIN))
      add_var(&vars, CW_VAR_GAIN, o, 0, -1, s->gain_db, state->gain_least_db[o], state->gain_most_db[o], 4);
    add_sections(problem, state, o, &vars);
    if (mate >= 0 && (size_t)mate < o) /* what a pair shares stands with the first of it */
      continue;
    if (!(held_of(problem, state, o) & (CW_FIT_CORNER | CW_FIT_HIGH_PASS)))
      add_corner(state, &vars, CW_VAR_HIGH_PASS, o, mate, &s->high_pass);
    if (!(held_of(problem, state, o) & (CW_FIT_CORNER | CW_FIT_LOW_PASS)))
      add_corner(state, &vars, CW_VAR_LOW_PASS, o, mate, &s->low_pass);
    if (state->delay_most_seconds[o] > 0 && !(held_of(problem, state, o) & CW_FIT_DELAY)) {
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

void cw_fit_var_write(const CwFitVar *v, double value, CwOutputSetting *s)
{
  switch (v->kind) {
  case CW_VAR_GAIN:
    s->gain_db = value;
    break;
  case CW_VAR_SECTION_HZ:
    s->section[v->section].frequency_hz = exp(value);
    break;
  case CW_VAR_SECTION_GAIN:
    s->section[v->section].gain_db = value;
    break;
  case CW_VAR_SECTION_Q:
    s->section[v->section].q = exp(value);
    break;
  case CW_VAR_HIGH_PASS:
    s->high_pass.corner_hz = exp(value);
    break;
  case CW_VAR_LOW_PASS:
    s->low_pass.corner_hz = exp(value);
    break;
  case CW_VAR_DELAY:
  default:
    s->delay_seconds = value * CW_DELAY_UNIT_SECONDS;
  }
}

void cw_fit_vars_write(const CwFitVars *vars, CwFitState *state)
{
  for (size_t i = 0; i < vars->count; i++) {
    cw_fit_var_write(&vars->var[i], vars->var[i].value, &state->setting[vars->var[i].output]);
    if (vars->var[i].mate >= 0)
      cw_fit_var_write(&vars->var[i], vars->var[i].value, &state->setting[vars->var[i].mate]);
  }
}
