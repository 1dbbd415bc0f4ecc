/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/decimator.h"
#include <math.h>
#include <string.h>

#define KAISER_BETA 9.6 /* some 96 dB; Oppenheim and Schafer, Discrete-Time Signal Processing, 7.5.3 */

static double bessel_i0(double x)
{
  double term = 1, sum = 1;

  for (int k = 1; term > 1e-17 * sum; k++) {
    term *= x * x / (4.0 * k * k);
    sum += term;
  }
  return sum;
}

/* The ideal half-band filter under Kaiser's window: all even coefficients but the middle one are 0. */
void cw_decimator_init(CwDecimator *halver)
{
  double sum = 0;

  memset(halver, 0, sizeof *halver);
  for (int k = 0; k < CW_DECIMATOR_PAIRS; k++) {
    double at = 2 * k + 1, part = at / (2.0 * CW_DECIMATOR_PAIRS);
    double window = bessel_i0(KAISER_BETA * sqrt(1 - part * part)) / bessel_i0(KAISER_BETA);
    halver->pair[k] = window * sin(M_PI * at / 2) / (M_PI * at);
    sum += halver->pair[k];
  }
  for (int k = 0; k < CW_DECIMATOR_PAIRS; k++) /* a constant passes unchanged */
    halver->pair[k] *= 0.25 / sum;
  halver->count = CW_DECIMATOR_TAPS - 1;
}

size_t cw_decimator_run(CwDecimator *halver, const double *samples, size_t count, double *out)
{
  size_t made = 0, at = 0;

  memcpy(halver->kept + halver->count, samples, count * sizeof *samples);
  halver->count += count;
  for (; at + CW_DECIMATOR_TAPS <= halver->count; at += 2) {
    const double *middle = halver->kept + at + 2 * CW_DECIMATOR_PAIRS - 1;
    double sum = 0.5 * middle[0];
    for (int k = 0; k < CW_DECIMATOR_PAIRS; k++)
      sum += halver->pair[k] * (middle[2 * k + 1] + middle[-2 * k - 1]);
    out[made++] = sum;
  }
  halver->count -= at;
  memmove(halver->kept, halver->kept + at, halver->count * sizeof *halver->kept);
  return made;
}
