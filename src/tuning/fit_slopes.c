/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit_slopes.h"
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

/* line[b] = change of a sum's power in band b for a unit of the variable. */
static bool power_slope(const CwFitRows *rows, const CwFitVar *v, const CwComplex *slope,
                        const CwComplex *force, size_t bands, double *line)
{
  const CwComplex *own = force + v->output * bands,
                  *mate = v->mate >= 0 ? force + (size_t)v->mate * bands : NULL;
  bool any = false;

  for (size_t b = 0; b < bands; b++) {
    CwComplex f = own[b] + (mate ? mate[b] : 0);
    line[b] = 2 * (creal(f) * creal(slope[b]) - cimag(f) * cimag(slope[b]));
    any |= line[b] != 0;
  }
  return any;
}

/* Adds factor * d(smoothed dB)/d(variable) of one sum to the rows of one kind. */
void cw_fit_add_slopes(CwFitRows *rows, const CwFitVars *vars, const CwComplex *force, const double *power,
                       size_t bands, size_t first_row, size_t reach, size_t step, const double *weight,
                       double factor)
{
  for (size_t v = 0; v < vars->count; v++) {
    if (!power_slope(rows, &vars->var[v], rows->slope + v * bands, force, bands, rows->line))
      continue;
    for (size_t k = 0; k * step < bands; k++) {
      if (weight[k * step] == 0)
        continue;
      double level = cw_fit_smoothed(power, bands, k * step, reach),
             change = cw_fit_smoothed(rows->line, bands, k * step, reach);
      if (level <= 0) /* nothing plays there */
        continue;
      rows->jacobian[(first_row + k) * rows->vars + v] +=
          factor * weight[k * step] * DB_PER_NEPER * change / level;
    }
  }
}
