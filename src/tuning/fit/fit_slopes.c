/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit_slopes.h"
#include "signal/wide.h"
#include <math.h>

#define DB_PER_NEPER (10 / M_LN10) /* of power */

size_t cw_fit_points(size_t bands, size_t step)
{
  return (bands + step - 1) / step;
}

/* The window of a point: reach bands to either side, the outermost half. Calls for every band in it. */
static double tap(size_t centre, size_t band, size_t reach)
{
  size_t apart = band > centre ? band - centre : centre - band;
  return apart < reach ? 1 : apart == reach ? 0.5 : 0;
}

double cw_fit_smoothed(const double *power, size_t bands, size_t centre, size_t reach)
{
  double sum = 0, weight = 0;
  for (size_t b = centre > reach ? centre - reach : 0; b <= centre + reach && b < bands; b++) {
    sum += tap(centre, b, reach) * power[b];
    weight += tap(centre, b, reach);
  }
  return sum / weight;
}

static bool is_silent(const CwComplex *force, size_t bands)
{
  for (size_t b = 0; b < bands; b++)
    if (force[b] != 0)
      return false;
  return true;
}

/* line[b] = change of a sum's power in band b for a unit of the variable; force of its output and, if there
 * is one, of its mate. */
CW_WIDE static void power_slope(const CwComplex *slope, const CwComplex *own, const CwComplex *mate,
                                size_t bands, double *line)
{
  if (mate)
    for (size_t b = 0; b < bands; b++) {
      CwComplex f = own[b] + mate[b];
      line[b] = 2 * (creal(f) * creal(slope[b]) - cimag(f) * cimag(slope[b]));
    }
  else
    for (size_t b = 0; b < bands; b++)
      line[b] = 2 * (creal(own[b]) * creal(slope[b]) - cimag(own[b]) * cimag(slope[b]));
}

/* What a change of a point's power by 1 does to its row: 0 where it does not count or nothing plays. */
static void fill_scale(const double *power, size_t bands, size_t reach, size_t step, const double *weight,
                       double factor, double *scale)
{
  for (size_t k = 0; k * step < bands; k++) {
    double level = weight[k * step] == 0 ? 0 : cw_fit_smoothed(power, bands, k * step, reach);
    scale[k] = level > 0 ? factor * weight[k * step] * DB_PER_NEPER / level : 0;
  }
}

/* The window of a point that stands reach or more from either end. */
static inline double smoothed_inside(const double *line, size_t centre, size_t reach)
{
  double sum = 0.5 * (line[centre - reach] + line[centre + reach]);
  for (size_t b = centre - reach + 1; b < centre + reach; b++)
    sum += line[b];
  return sum / (double)(2 * reach);
}

void cw_fit_add_slopes(CwFitRows *rows, const CwFitVars *vars, const CwComplex *force, const double *power,
                       size_t bands, size_t first_row, size_t reach, size_t step, const double *weight,
                       double factor)
{
  double *scale = cw_alloc_real(cw_fit_points(bands, step));
  size_t outputs = rows->outputs;
  bool *silent = cw_alloc_bytes(outputs * sizeof *silent);

  for (size_t o = 0; o < outputs; o++)
    silent[o] = is_silent(force + o * bands, bands);
  fill_scale(power, bands, reach, step, weight, factor, scale);
  for (size_t v = 0; v < vars->count; v++) {
    const CwFitVar *var = &vars->var[v];
    double *column = rows->jacobian + first_row * rows->vars + v;
    if (silent[var->output] && (var->mate < 0 || silent[var->mate]))
      continue;
    power_slope(rows->slope + v * bands, force + var->output * bands,
                var->mate >= 0 ? force + (size_t)var->mate * bands : NULL, bands, rows->line);
    for (size_t k = 0; k * step < bands; k++) {
      size_t at = k * step;
      bool inside = at >= reach && at + reach < bands;
      if (scale[k] != 0)
        column[k * rows->vars] += scale[k] * (inside ? smoothed_inside(rows->line, at, reach)
                                                     : cw_fit_smoothed(rows->line, bands, at, reach));
    }
  }
  cw_free(scale);
  cw_free(silent);
}
