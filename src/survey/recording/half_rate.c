/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/recording/half_rate.h"
#include "signal/memory.h"
#include <math.h>

#define PAIRS                                                                                                \
  22 /* odd taps on either side; the even ones of a half-band filter are zero but for the middle's half */
#define BLOCK 1024 /* outputs that stay in the nearest cache while all taps pass */
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
  enum { REACH = PAIRS };
  size_t half = (frames + 1) / 2;
  double tap[PAIRS], *even = cw_alloc_real(half + 2 * REACH), *odd = cw_alloc_real(half + 2 * REACH);

  design(tap);
  /* Even samples and odd ones apart, so that every tap runs along memory. */
  for (size_t i = 0; i < frames; i++)
    (i % 2 ? odd : even)[REACH + i / 2] = samples[i];
  for (size_t i = 0; i < half; i++)
    samples[i] = 0.5 * even[REACH + i];
  for (size_t first = 0; first < half; first += BLOCK) {
    size_t count = half - first < BLOCK ? half - first : BLOCK;
    double *restrict out = samples + first;
    for (int k = 0; k < PAIRS; k++) {
      const double *restrict later = odd + first + REACH + k, *restrict earlier = odd + first + REACH - k - 1;
      for (size_t i = 0; i < count; i++)
        out[i] += tap[k] * (later[i] + earlier[i]);
    }
  }
  cw_free(even);
  cw_free(odd);
  return half;
}
