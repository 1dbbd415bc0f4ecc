/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/halve.h"
#include "signal/memory.h"
#include <math.h>
#include <string.h>

#define PAIRS 22 /* odd taps on either side; the even ones of a half-band filter are zero but for the middle's half */
#define KAISER 9.5 /* Kaiser's window, -95 dB (Kaiser, IEEE ISCAS 1974) */

static double bessel_i0(double x)
{
  double sum = 1, term = 1;
  for (int k = 1; k < 60; k++) {
    term *= x / (2 * k) * x / (2 * k);
    sum += term;
  }
  return sum;
}

static void design(double *tap)
{
  double total = 0;

  for (int i = 0; i < PAIRS; i++) {
    double n = 2 * i + 1, place = n / (2 * PAIRS);
    tap[i] = sin(M_PI * n / 2) / (M_PI * n) * bessel_i0(KAISER * sqrt(1 - place * place)) / bessel_i0(KAISER);
    total += 2 * tap[i];
  }
  for (int i = 0; i < PAIRS; i++)
    tap[i] *= 0.5 / total;
}

size_t cw_halve_rate(double *samples, size_t frames)
{
  enum { REACH = 2 * PAIRS };
  size_t half = (frames + 1) / 2;
  double tap[PAIRS], *padded = cw_alloc_real(frames + 2 * REACH + 2);

  design(tap);
  memcpy(padded + REACH, samples, frames * sizeof *samples);
  for (size_t i = 0; i < half; i++) {
    const double *x = padded + REACH + 2 * i;
    double sum = 0.5 * x[0];
    for (int k = 0; k < PAIRS; k++)
      sum += tap[k] * (x[2 * k + 1] + x[-2 * k - 1]);
    samples[i] = sum;
  }
  cw_free(padded);
  return half;
}
