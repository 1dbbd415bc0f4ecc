/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/check/foreign_sound.h"
#include "signal/fft.h"
#include <math.h>

/* Harmonics of a sweep that grows by e in 0.4 s come 0.28 s early and sooner; a lead has rung out after a
 * tenth of a second at LOW_HZ. */
#define BEFORE_FROM (-0.22)
#define BEFORE_TO (-0.03)
#define AFTER_FROM 0.1
#define AFTER_TO 0.5
#define OWN_TO 0.1
#define EDGE_SECONDS 0.012
#define LOW_HZ 220.0
#define HIGH_HZ 14000.0
#define STEP_OCTAVES (1.0 / 12)
#define NOISE_FACTOR 10.0

/* Power spectrum of a part of the response under a window with soft edges; returns the window's energy. */
static double part_power(const CwForeignLook *l, double from, double to, size_t size, double *power)
{
  double *cut = cw_alloc_real(size), energy = 0;
  CwComplex *bins = cw_alloc_complex(size / 2 + 1);
  size_t count = (size_t)((to - from) * l->rate_hz);
  long first = l->peak + lrint(from * l->rate_hz), length = (long)l->length;

  for (size_t i = 0; i < count && i < size; i++) {
    double inside = fmin((double)i, (double)(count - i)) / l->rate_hz / EDGE_SECONDS,
           w = 0.5 - 0.5 * cos(M_PI * fmin(inside, 1));
    cut[i] = w * l->response[(((first + (long)i) % length) + length) % length];
    energy += w * w;
  }
  cw_fft_forward(cw_fft_get(size), cut, bins);
  for (size_t i = 0; i <= size / 2; i++)
    power[i] += creal(bins[i]) * creal(bins[i]) + cimag(bins[i]) * cimag(bins[i]);
  cw_free(cut);
  cw_free(bins);
  return energy;
}

static double mean_power(const double *power, double bin_hz, double hz)
{
  size_t first = (size_t)ceil(hz * exp2(-0.5 * STEP_OCTAVES) / bin_hz),
         last = (size_t)floor(hz * exp2(0.5 * STEP_OCTAVES) / bin_hz);
  double sum = 0;
  for (size_t i = first; i <= last; i++)
    sum += power[i];
  return sum / (double)(last + 1 - first);
}

static double noise_at(const CwForeignLook *l, double hz)
{
  size_t i = 0;
  while (i + 1 < l->count && l->hz[i] < hz)
    i++;
  return l->noise_power[i];
}

CwForeignSound cw_foreign_sound_find(const CwForeignLook *l)
{
  size_t size = cw_fft_good_length((size_t)((AFTER_TO - AFTER_FROM) * l->rate_hz) + 1), bins = size / 2 + 1;
  double *own = cw_alloc_real(bins), *before = cw_alloc_real(bins), *after = cw_alloc_real(bins),
         bin_hz = l->rate_hz / (double)size;
  double under =
      part_power(l, BEFORE_FROM, BEFORE_TO, size, before) + part_power(l, AFTER_FROM, AFTER_TO, size, after);
  CwForeignSound found = {0};

  part_power(l, BEFORE_TO + EDGE_SECONDS, OWN_TO, size, own);
  for (double hz = LOW_HZ; hz < fmin(HIGH_HZ, 0.4 * l->rate_hz); hz *= exp2(STEP_OCTAVES)) {
    double early = mean_power(before, bin_hz, hz), late = mean_power(after, bin_hz, hz),
           noise = NOISE_FACTOR * under * noise_at(l, hz),
           part = (early + late) / (mean_power(own, bin_hz, hz) + 1e-30);
    if (early + late < noise || part <= found.part)
      continue;
    found = (CwForeignSound){part, hz, early > late ? 0.5 * BEFORE_FROM : 0.5 * AFTER_TO};
  }
  cw_free(own);
  cw_free(before);
  cw_free(after);
  return found;
}
