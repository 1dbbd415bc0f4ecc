/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/stimulus/noise.h"
#include "signal/fft.h"
#include "signal/random.h"
#include <math.h>
#include <string.h>

#define MOST_ROUNDS 60
#define CLIP_BELOW                                                                                           \
  0.94 /* clips a little below the aim, since restoring the magnitudes gives part of the peak back */

typedef struct {
  size_t first, last; /* bins with energy */
  double scale;       /* magnitude of bin k is scale / sqrt(k) */
} PinkSpectrum;

/* The inverse transform of unscaled bins X gives a mean square of 2 sum |X|^2 / frames^2. */
static PinkSpectrum pink_spectrum(const CwPinkNoise *noise, double rate_hz, size_t frames)
{
  double bin_hz = rate_hz / (double)frames, sum = 0;
  PinkSpectrum pink = {.first = (size_t)ceil(noise->low_hz / bin_hz),
                       .last = (size_t)floor(noise->high_hz / bin_hz)};

  if (pink.first < 1)
    pink.first = 1;
  if (pink.last > (frames - 1) / 2)
    pink.last = (frames - 1) / 2;
  for (size_t k = pink.first; k <= pink.last; k++)
    sum += 1 / (double)k;
  pink.scale = sum > 0 ? noise->rms * (double)frames / sqrt(2 * sum) : 0;
  return pink;
}

static void restore_magnitudes(const PinkSpectrum *pink, CwComplex *bins, size_t count)
{
  memset(bins, 0, pink->first * sizeof *bins);
  for (size_t k = pink->first; k <= pink->last; k++) {
    double magnitude = sqrt(creal(bins[k]) * creal(bins[k]) + cimag(bins[k]) * cimag(bins[k]));
    bins[k] =
        magnitude > 0 ? bins[k] * (pink->scale / sqrt((double)k) / magnitude) : pink->scale / sqrt((double)k);
  }
  memset(bins + pink->last + 1, 0, (count - pink->last - 1) * sizeof *bins);
}

static double peak_of(const double *samples, size_t frames)
{
  double peak = 0;
  for (size_t i = 0; i < frames; i++)
    peak = fmax(peak, fabs(samples[i]));
  return peak;
}

static void clip(double *samples, size_t frames, double most)
{
  for (size_t i = 0; i < frames; i++)
    samples[i] = fmin(fmax(samples[i], -most), most);
}

double cw_pink_noise_render(const CwPinkNoise *noise, double rate_hz, size_t frames, double *out)
{
  PinkSpectrum pink = pink_spectrum(noise, rate_hz, frames);
  size_t count = frames / 2 + 1;
  CwRandom random = cw_random_new(noise->seed);
  double aim = noise->rms * pow(10, noise->most_crest_db / 20), peak;

  memset(out, 0, frames * sizeof *out);
  if (!(pink.scale > 0))
    return NAN;

  const CwFft *fft = cw_fft_get(frames);
  CwComplex *bins = cw_alloc_complex(count);
  for (size_t k = pink.first; k <= pink.last; k++) {
    double phase = 2 * M_PI * cw_random_uniform(&random);
    bins[k] = cos(phase) + I * sin(phase);
  }
  restore_magnitudes(&pink, bins, count);
  cw_fft_inverse(fft, bins, out);
  peak = peak_of(out, frames);
  for (int round = 0; round < MOST_ROUNDS && peak > aim; round++) {
    clip(out, frames, CLIP_BELOW * aim);
    cw_fft_forward(fft, out, bins);
    restore_magnitudes(&pink, bins, count);
    cw_fft_inverse(fft, bins, out);
    peak = peak_of(out, frames);
  }
  cw_free(bins);
  return 20 * log10(peak / noise->rms);
}

void cw_white_noise_render(uint64_t seed, double rms, size_t frames, double *out)
{
  CwRandom random = cw_random_new(seed);
  for (size_t i = 0; i < frames; i++)
    out[i] = rms * cw_random_normal(&random);
}
