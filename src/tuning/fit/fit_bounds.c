/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit_bounds.h"
#include "tuning/fit/fit_slopes.h"
#include <math.h>

#define BOUND_UNIT_DB 0.5
#define PROTECTION_UNIT_DB 0.5 /* where bounds are firm */
#define PROTECTION_SOFT_DB 3.0
#define PROTECTION_ROOM_DB 0.8 /* for the processor's steps and for voicing */

static bool is_of_section(const CwFitVar *v, size_t output)
{
  return v->output == output &&
         (v->kind == CW_VAR_SECTION_HZ || v->kind == CW_VAR_SECTION_GAIN || v->kind == CW_VAR_SECTION_Q);
}

void cw_fit_bound_rows(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state, size_t output,
                       const CwFitVars *vars)
{
  const CwOutputSetting *s = &state->setting[output];
  size_t bands = problem->bands->bands, count = cw_fit_points(bands, CW_FIT_MATCH_STEP);
  double scale = (problem->firm ? 1 : sqrt(1 / (double)count)) / BOUND_UNIT_DB,
         *sections_db = cw_alloc_real(count);

  cw_fit_sections_db(problem, s, CW_FIT_MATCH_STEP, sections_db);
  for (size_t k = 0; k < count; k++, rows->count++) {
    size_t b = k * CW_FIT_MATCH_STEP;
    double db = sections_db[k], least = problem->limits.section_gain_least_db,
           most = problem->boost_most_db ? problem->boost_most_db[output * bands + b]
                                         : problem->limits.section_gain_most_db,
           beyond = db > most    ? db - most
                    : db < least ? db - least
                                 : 0;
    rows->residual[rows->count] = scale * beyond;
    for (size_t v = 0; vars && beyond != 0 && v < vars->count; v++)
      if (is_of_section(&vars->var[v], output))
        rows->jacobian[rows->count * rows->vars + v] =
            scale * 20 / M_LN10 * creal(rows->slope[v * bands + b]);
  }
  cw_free(sections_db);
}

/* Level at one frequency, which may lie below those that the fit looks at. */
static double level_db(const CwFitProblem *problem, const CwOutputSetting *s, double hz)
{
  CwComplex response;
  cw_setting_response(s, problem->limits.rate_hz, &hz, 1, &response);
  return 20 * log10(cabs(response) + 1e-30);
}

/* By a small difference: it is asked for only where protection falls short. */
static double level_slope(const CwFitProblem *problem, const CwFitState *state, size_t output,
                          const CwFitVar *var, double hz, double level)
{
  const double step = 1e-5;
  CwOutputSetting moved = state->setting[output];

  cw_fit_var_write(var, var->value + step, &moved);
  return (level_db(problem, &moved, hz) - level) / step;
}

void cw_fit_protection_row(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state,
                           size_t output, const CwFitVars *vars)
{
  const CwBandMatrices *m = problem->bands;
  const CwComplex *drive = rows->drive + output * m->bands;
  double lowest_hz = problem->car->output[output].lowest_hz, below_hz = CW_SETTING_PROTECTED_PART * lowest_hz,
         below_db, over_db, unit_db = problem->firm ? PROTECTION_UNIT_DB : PROTECTION_SOFT_DB;
  size_t top = m->bands;

  for (size_t b = 0; b < m->bands; b++)
    if (m->hz[b] >= lowest_hz && (top == m->bands || cw_fit_power(drive[b]) > cw_fit_power(drive[top])))
      top = b;
  rows->residual[rows->count++] = 0;
  if (!(lowest_hz > 0) || top == m->bands)
    return;
  below_db = level_db(problem, &state->setting[output], below_hz);
  over_db = below_db - 20 * log10(cabs(drive[top]) + 1e-30) + CW_SETTING_LEAST_FALL_DB + PROTECTION_ROOM_DB;
  if (over_db <= 0)
    return;
  rows->residual[rows->count - 1] = over_db / unit_db;
  for (size_t v = 0; vars && v < vars->count; v++)
    if (vars->var[v].output == output || vars->var[v].mate == (int)output)
      rows->jacobian[(rows->count - 1) * rows->vars + v] =
          (level_slope(problem, state, output, &vars->var[v], below_hz, below_db) -
           20 / M_LN10 * creal(rows->slope[v * m->bands + top])) /
          unit_db;
}
