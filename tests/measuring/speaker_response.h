/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"
#include "signal/random.h"
#include <math.h>

/* Invented responses whose truth is known: a speaker as second-order high-pass and low-pass (Butterworth, by
 * their transfer functions), each sound that arrives as one delay and one strength, exact in the frequency
 * domain, and noise. */

#define SPEAKER_RATE_HZ 48000.0
#define SPEAKER_LEAD_SECONDS 0.06
#define SPEAKER_FRAMES 26880 /* the lead and half a second */

typedef struct {
  double seconds, strength;
} Sound;

static inline CwComplex speaker_transfer(double hz, double low_hz, double high_hz)
{
  CwComplex s = I * hz / low_hz, t = I * hz / high_hz;
  return s * s / (1 + M_SQRT2 * s + s * s) / (1 + M_SQRT2 * t + t * t);
}

/* frames samples; sounds are counted from first_seconds on; the sweep's band begins and ends softly at
 * sweep_low_hz and 21.5 kHz, as a deconvolved sweep's does. noise: rms of white noise. */
static inline void speaker_response(const Sound *sound, size_t sounds, double low_hz, double high_hz,
                                    double sweep_low_hz, double noise, unsigned seed, float *response)
{
  size_t length = 65536;
  CwComplex *bins = cw_alloc_complex(length / 2 + 1);
  double *samples = cw_alloc_real(length);
  CwRandom random = cw_random_new(seed);

  for (size_t i = 1; i < length / 2; i++) {
    double hz = (double)i * SPEAKER_RATE_HZ / (double)length;
    double band = fmin(fmax((hz / sweep_low_hz - 1) / 0.05, 0), 1) * fmin(fmax((21500 - hz) / 800, 0), 1);
    for (size_t k = 0; k < sounds; k++)
      bins[i] += band * sound[k].strength * speaker_transfer(hz, low_hz, high_hz) *
                 cexp(-2 * M_PI * I * hz * sound[k].seconds);
  }
  cw_fft_inverse(cw_fft_get(length), bins, samples);
  for (size_t i = 0; i < SPEAKER_FRAMES; i++)
    response[i] = (float)(samples[i] + noise * cw_random_normal(&random));
  cw_free(bins);
  cw_free(samples);
}
