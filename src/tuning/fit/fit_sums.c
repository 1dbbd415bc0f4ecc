/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit_sums.h"
#include "signal/wide.h"
#include <math.h>
#include <string.h>

#define OVERLAP_DB 8.0 /* speakers that stand closer than this share the sum */

/* Of values that are neither huge nor tiny: cabs() goes a long way for those. */
static double size_of(CwComplex value)
{
  return sqrt(creal(value) * creal(value) + cimag(value) * cimag(value));
}

static double mix_of(const CwCarOutput *output, CwSum sum)
{
  return sum == CW_SUM_BOTH ? output->mix[0] + output->mix[1] : output->mix[sum];
}

CW_WIDE void cw_fit_sum_power(const CwFitProblem *problem, const CwComplex *drive, size_t seat, CwSum sum,
                              CwComplex *force, double *power)
{
  const CwBandMatrices *m = problem->bands;
  const CwComplex *cross = m->cross + seat * m->bands * m->outputs * m->outputs;
  const double *over_target = problem->over_target + sum * m->bands;
  size_t n = m->outputs, bands = m->bands;

  double *mix = cw_alloc_real(n);
  CwComplex *part = cw_alloc_complex(n);

  for (size_t i = 0; i < n; i++)
    mix[i] = mix_of(&problem->car->output[i], sum);
  for (size_t b = 0; b < bands; b++) {
    double level = 0;
    for (size_t j = 0; j < n; j++)
      part[j] = mix[j] * conj(drive[j * bands + b]);
    for (size_t i = 0; i < n; i++) {
      const CwComplex *line = cross + (b * n + i) * n;
      CwComplex other = 0;
      for (size_t j = 0; j < n && mix[i] != 0; j++)
        other += part[j] * line[j];
      force[i * bands + b] = conj(part[i]) * other * over_target[b];
      level += creal(force[i * bands + b]);
    }
    power[b] = level;
  }
  cw_free(mix);
  cw_free(part);
}

void cw_fit_own_power(const CwFitProblem *problem, const CwComplex *drive, size_t seat, CwSum sum,
                      size_t output, CwComplex *force, double *power)
{
  const CwBandMatrices *m = problem->bands;
  const CwComplex *cross = m->cross + seat * m->bands * m->outputs * m->outputs;
  const double *over_target = problem->over_target + sum * m->bands;
  double mix = mix_of(&problem->car->output[output], sum);

  memset(force, 0, m->outputs * m->bands * sizeof *force);
  for (size_t b = 0; b < m->bands; b++) {
    CwComplex d = drive[output * m->bands + b];
    power[b] = mix * mix * creal(d * conj(d)) * over_target[b] *
               creal(cross[(b * m->outputs + output) * m->outputs + output]);
    force[output * m->bands + b] = power[b];
  }
}

void cw_fit_loss(const CwFitProblem *problem, const CwComplex *drive, size_t seat, CwSum side,
                 CwComplex *force, double *loss_db, double *weight)
{
  const CwBandMatrices *m = problem->bands;
  const CwComplex *cross = m->cross + seat * m->bands * m->outputs * m->outputs;
  const double *magnitude = m->magnitude + seat * m->bands * m->outputs * m->outputs;
  size_t n = m->outputs, bands = m->bands;
  double *sizes = cw_alloc_real(n);

  for (size_t b = 0; b < bands; b++) {
    double power = 0, whole = 0, first = 0, second = 0;
    for (size_t i = 0; i < n; i++) {
      const CwCarOutput *o = &problem->car->output[i];
      double mix_i = o->beside ? 0 : o->mix[side], size = 0, own;
      CwComplex other = 0, x;
      force[i * bands + b] = 0;
      if (mix_i == 0)
        continue;
      for (size_t j = 0; j < n; j++) {
        const CwCarOutput *p = &problem->car->output[j];
        double mix_j = p->beside ? 0 : p->mix[side];
        if (mix_j == 0)
          continue;
        other += mix_j * conj(drive[j * bands + b]) * cross[(b * n + i) * n + j];
        size += fabs(mix_j) * size_of(drive[j * bands + b]) * magnitude[(b * n + i) * n + j];
      }
      x = mix_i * drive[i * bands + b] * other;
      size *= fabs(mix_i) * size_of(drive[i * bands + b]);
      own = mix_i * mix_i * creal(drive[i * bands + b] * conj(drive[i * bands + b])) *
            creal(cross[(b * n + i) * n + i]);
      second = fmax(second, fmin(first, own));
      first = fmax(first, own);
      power += creal(x);
      whole += size;
      force[i * bands + b] = -x; /* completed below, when both sums are known */
      sizes[i] = size;
    }
    weight[b] = 0;
    loss_db[b] = 0;
    if (!(whole > 0 && power > 0 && second > 0))
      continue;
    double apart_db = 10 * log10(first / second);
    weight[b] = 1 / (1 + exp((apart_db - OVERLAP_DB) / 0.8));
    loss_db[b] = 10 * log10(whole / power);
    for (size_t i = 0; i < n; i++)
      if (force[i * bands + b] != 0)
        force[i * bands + b] = sizes[i] / whole + force[i * bands + b] / power;
  }
  cw_free(sizes);
}
