/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/decimator.h"
#include "signal/kaiser.h"
#include "signal/memory.h"
#include <math.h>
#include <string.h>

#define STREAM_BETA 9.6 /* some 96 dB down */
#define WHOLE_BETA 9.5  /* some 95 dB down */
#define WHOLE_PAIRS 22
#define BLOCK 1024 /* outputs that stay in the nearest cache while all taps pass */

/* The ideal half-band filter under Kaiser's window: all even coefficients but the middle one are 0. pair
 * takes the odd ones of one half, so that a constant passes unchanged beside a middle of 0.5. */
static void design_half_band(double *pair, int pairs, double beta)
{
  double sum = 0;

  for (int k = 0; k < pairs; k++) {
    double at = 2 * k + 1;
    pair[k] = cw_kaiser_window(at / (2.0 * pairs), beta) * sin(M_PI * at / 2) / (M_PI * at);
    sum += pair[k];
  }
  for (int k = 0; k < pairs; k++)
    pair[k] *= 0.25 / sum;
}

void cw_decimator_init(CwDecimator *decimator)
{
  memset(decimator, 0, sizeof *decimator);
  design_half_band(decimator->pair, CW_DECIMATOR_PAIRS, STREAM_BETA);
  decimator->count = CW_DECIMATOR_TAPS - 1;
}

size_t cw_decimator_run(CwDecimator *decimator, const double *samples, size_t count, double *out)
{
  size_t made = 0, at = 0;

  memcpy(decimator->kept + decimator->count, samples, count * sizeof *samples);
  decimator->count += count;
  for (; at + CW_DECIMATOR_TAPS <= decimator->count; at += 2) {
    const double *middle = decimator->kept + at + 2 * CW_DECIMATOR_PAIRS - 1;
    double sum = 0.5 * middle[0];
    for (int k = 0; k < CW_DECIMATOR_PAIRS; k++)
      sum += decimator->pair[k] * (middle[2 * k + 1] + middle[-2 * k - 1]);
    out[made++] = sum;
  }
  decimator->count -= at;
  memmove(decimator->kept, decimator->kept + at, decimator->count * sizeof *decimator->kept);
  return made;
}

size_t cw_halve_rate(double *samples, size_t frames)
{
  enum { REACH = WHOLE_PAIRS };
  size_t half = (frames + 1) / 2;
  double pair[WHOLE_PAIRS], *even = cw_alloc_real(half + 2 * REACH), *odd = cw_alloc_real(half + 2 * REACH);

  design_half_band(pair, WHOLE_PAIRS, WHOLE_BETA);
  /* Even samples and odd ones apart, so that every tap runs along memory. */
  for (size_t i = 0; i < frames; i++)
    (i % 2 ? odd : even)[REACH + i / 2] = samples[i];
  for (size_t i = 0; i < half; i++)
    samples[i] = 0.5 * even[REACH + i];
  for (size_t first = 0; first < half; first += BLOCK) {
    size_t count = half - first < BLOCK ? half - first : BLOCK;
    double *restrict out = samples + first;
    for (int k = 0; k < WHOLE_PAIRS; k++) {
      const double *restrict later = odd + first + REACH + k, *restrict earlier = odd + first + REACH - k - 1;
      for (size_t i = 0; i < count; i++)
        out[i] += pair[k] * (later[i] + earlier[i]);
    }
  }
  cw_free(even);
  cw_free(odd);
  return half;
}
