/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/response/phase.h"
#include "signal/response/minimum_phase.h"
#include <math.h>

void cw_phase_unwrap(double *phase, size_t count)
{
  double turns = 0, before = count ? phase[0] : 0;

  for (size_t i = 1; i < count; i++) {
    double step = phase[i] - before;
    before = phase[i];
    turns -= rint(step / (2 * M_PI));
    phase[i] += 2 * M_PI * turns;
  }
}

void cw_phase_of(const CwComplex *response, size_t count, double *phase)
{
  for (size_t i = 0; i < count; i++)
    phase[i] = carg(response[i]);
  cw_phase_unwrap(phase, count);
}

void cw_group_delay(const double *phase, size_t count, double bin_hz, double *delay_seconds)
{
  for (size_t i = 0; i < count; i++) {
    size_t low = i > 0 ? i - 1 : i, high = i + 1 < count ? i + 1 : i;
    delay_seconds[i] = -(phase[high] - phase[low]) / (2 * M_PI * bin_hz * (double)(high - low));
  }
}

void cw_excess_phase(const CwComplex *response, size_t length, double *excess)
{
  size_t bins = length / 2 + 1;
  double *magnitude = cw_alloc_real(bins), *minimum = cw_alloc_real(bins);

  for (size_t i = 0; i < bins; i++)
    magnitude[i] = cabs(response[i]);
  cw_minimum_phase(magnitude, length, NULL, minimum);
  for (size_t i = 0; i < bins; i++)
    excess[i] = carg(response[i]) - minimum[i];
  cw_phase_unwrap(excess, bins);
  cw_free(magnitude);
  cw_free(minimum);
}
