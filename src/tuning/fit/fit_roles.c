/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit_roles.h"
#include "tuning/fit/fit_slopes.h"
#include "tuning/fit/fit_sums.h"
#include <math.h>

#define FILL_BELOW_DB                                                                                        \
  3.5 /* half of the power at most: common practice, no source; and room, as a cost holds it only nearly */
#define FILL_UNIT_DB 1.0
#define LIFT_FREE_DB 1.0 /* skirts of lifts nearby */
#define LIFT_UNIT_DB 0.3
#define WASTE_FREE_DB 6.0
#define WASTE_UNIT_DB 20.0
#define CORNER_ROOM 1.2 /* from a corner to where the output plays fully */

/* Whether the stage has a hole in a side's sum there: fill may fill it. */
static bool has_hole(const CwFitProblem *problem, CwSum side, size_t band)
{
  size_t bands = problem->bands->bands;

  for (size_t o = 0; problem->no_boost && o < problem->car->outputs; o++)
    if (!problem->car->output[o].beside && problem->car->output[o].mix[side] != 0)
      for (size_t b = band > CW_FIT_SIDE_REACH ? band - CW_FIT_SIDE_REACH : 0;
           b <= band + CW_FIT_SIDE_REACH && b < bands; b++)
        if (problem->no_boost[o * bands + b])
          return true;
  return false;
}

/* How far fill rises above what it may have of a side's sum, point by point. */
void cw_fit_fill_rows(CwFitRows *rows, const CwFitProblem *problem, size_t seat, CwSum side, size_t output,
                      const CwFitVars *vars)
{
  size_t bands = problem->bands->bands, n = problem->bands->outputs,
         count = cw_fit_points(bands, CW_FIT_SIDE_STEP);
  CwComplex *force = rows->force + (CW_SUMS + 2) * n * bands, *whole_force = rows->force + side * n * bands;
  double *own = rows->power + CW_SUMS * bands, *weight = own + bands, *whole = rows->power + side * bands;
  double scale = sqrt(problem->seat_weight[seat] / (double)count) / FILL_UNIT_DB;
  bool any = false;

  cw_fit_own_power(problem, rows->drive, seat, side, output, force, own);
  for (size_t k = 0; k < count; k++) {
    double one = cw_fit_smoothed(own, bands, k * CW_FIT_SIDE_STEP, CW_FIT_SIDE_REACH),
           all = cw_fit_smoothed(whole, bands, k * CW_FIT_SIDE_STEP, CW_FIT_SIDE_REACH);
    double over_db = one > 0 && all > 0 && !has_hole(problem, side, k * CW_FIT_SIDE_STEP)
                         ? 10 * log10(one / all) + FILL_BELOW_DB
                         : 0;
    weight[k * CW_FIT_SIDE_STEP] = over_db > 0 ? scale : 0;
    any |= over_db > 0;
    rows->residual[rows->count + k] = scale * fmax(over_db, 0);
  }
  if (vars && any) {
    cw_fit_add_slopes(rows, vars, force, own, bands, rows->count, CW_FIT_SIDE_REACH, CW_FIT_SIDE_STEP, weight,
                      1);
    cw_fit_add_slopes(rows, vars, whole_force, whole, bands, rows->count, CW_FIT_SIDE_REACH, CW_FIT_SIDE_STEP,
                      weight, -1);
  }
  rows->count += count;
}

bool cw_fit_has_refusal(const CwFitProblem *problem, size_t output)
{
  for (size_t b = 0; problem->no_boost && b < problem->bands->bands; b++)
    if (problem->no_boost[output * problem->bands->bands + b])
      return true;
  return false;
}

static bool lifts(const CwSection *s)
{
  return cw_section_kind_has_gain(s->kind) && s->gain_db > 0;
}

void cw_fit_lift_rows(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state, size_t output,
                      const CwFitVars *vars)
{
  const CwOutputSetting *s = &state->setting[output];
  CwOutputSetting lifting = {0};
  size_t bands = problem->bands->bands, count = cw_fit_points(bands, CW_FIT_SIDE_STEP);
  double scale = sqrt(1 / (double)count) / LIFT_UNIT_DB, *lift_db;

  if (!cw_fit_has_refusal(problem, output))
    return;
  for (size_t i = 0; i < s->sections; i++)
    if (lifts(&s->section[i]))
      lifting.section[lifting.sections++] = s->section[i];
  lift_db = cw_alloc_real(count);
  cw_fit_sections_db(problem, &lifting, CW_FIT_SIDE_STEP, lift_db);
  for (size_t k = 0; k < count; k++, rows->count++) {
    size_t b = k * CW_FIT_SIDE_STEP;
    double *row = vars ? rows->jacobian + rows->count * rows->vars : NULL,
           over_db = (problem->no_boost[output * bands + b] ? lift_db[k] : 0) - LIFT_FREE_DB;
    rows->residual[rows->count] = scale * fmax(over_db, 0);
    for (size_t v = 0; vars && over_db > 0 && v < vars->count; v++) {
      const CwFitVar *var = &vars->var[v];
      bool of_section =
          var->kind == CW_VAR_SECTION_HZ || var->kind == CW_VAR_SECTION_GAIN || var->kind == CW_VAR_SECTION_Q;
      if (var->output == output && of_section && var->section < s->sections &&
          lifts(&s->section[var->section]))
        row[v] = scale * 20 / M_LN10 * creal(rows->slope[v * bands + b]);
    }
  }
  cw_free(lift_db);
}

/* How far an output's sections turn it down on the whole, beyond what their cuts have to: its gain can do
 * that without using up sections and headroom. Slopes along the mean of the drive in its band. */
void cw_fit_waste_row(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state, size_t output,
                      const CwFitVars *vars)
{
  const CwOutputSetting *s = &state->setting[output];
  size_t bands = problem->bands->bands, count = 0;
  const CwComplex *drive = rows->drive + output * bands;
  double low = s->high_pass.order ? CORNER_ROOM * s->high_pass.corner_hz : 0,
         high = s->low_pass.order ? s->low_pass.corner_hz / CORNER_ROOM : INFINITY, db = 0;
  double *row = vars ? rows->jacobian + rows->count * rows->vars : NULL;

  for (size_t b = 0; b < bands; b++)
    if (problem->bands->hz[b] > low && problem->bands->hz[b] < high) {
      db += 10 * log10(cw_fit_power(drive[b]) + 1e-60) - s->gain_db;
      count++;
    }
  double over_db = count ? -db / (double)count - WASTE_FREE_DB : 0;
  rows->residual[rows->count++] = fmax(over_db, 0) / WASTE_UNIT_DB;
  for (size_t v = 0; vars && over_db > 0 && v < vars->count; v++) {
    const CwFitVar *var = &vars->var[v];
    if ((var->output != output && var->mate != (int)output) || var->kind == CW_VAR_GAIN)
      continue;
    double rise = 0;
    for (size_t b = 0; b < bands; b++)
      if (problem->bands->hz[b] > low && problem->bands->hz[b] < high)
        rise += creal(rows->slope[v * bands + b]);
    row[v] = -rise * 20 / M_LN10 / (double)count / WASTE_UNIT_DB;
  }
}
