/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"
#include "signal/filters/section.h"
#include "signal/random.h"
#include <glib.h>
#include <math.h>

/* Delays samples by any number of samples, exactly for what is band-limited, by turning phases; what runs out
 * at the end comes in at the start, so leave silence there. */
static inline void delay_by(double *samples, size_t count, double delay)
{
  const CwFft *fft = cw_fft_get(count);
  CwComplex *bins = cw_alloc_complex(count / 2 + 1);

  cw_fft_forward(fft, samples, bins);
  for (size_t k = 0; k < (count + 1) / 2; k++) {
    double turn = 2 * G_PI * fmod((double)k * delay / (double)count, 1);
    bins[k] *= cos(turn) - I * sin(turn);
  }
  if (count % 2 == 0) /* half the rate has no phase of its own */
    bins[count / 2] *= cos(G_PI * delay);
  cw_fft_inverse(fft, bins, samples);
  cw_free(bins);
}

static inline void add_noise(double *samples, size_t count, double rms, uint64_t seed)
{
  CwRandom random = cw_random_new(seed);
  for (size_t i = 0; i < count; i++)
    samples[i] += rms * cw_random_normal(&random);
}

/* A cascade of minimum-phase sections such as a speaker in a cabin might have. */
static inline size_t random_cascade(CwCoefficients *cascade, size_t sections, double rate_hz)
{
  static const CwSectionKind kinds[] = {CW_SECTION_PEAKING, CW_SECTION_LOW_SHELF, CW_SECTION_HIGH_SHELF};

  for (size_t i = 0; i < sections; i++) {
    CwSection section = {.kind = kinds[g_test_rand_int_range(0, 3)],
                         .frequency_hz = 60 * pow(200, g_test_rand_double()),
                         .gain_db = g_test_rand_double_range(-12, 12)};
    section.q = section.kind == CW_SECTION_PEAKING ? 0.4 * pow(15, g_test_rand_double()) : 0.7;
    g_assert_true(cw_section_design(&section, rate_hz, &cascade[i]));
  }
  return sections;
}
