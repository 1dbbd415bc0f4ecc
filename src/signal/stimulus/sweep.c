/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/stimulus/sweep.h"
#include <math.h>
#include <string.h>

#define FALL_FLOOR_DB (-30.0) /* how far below its band's level the sweep's spectrum is still divided out */

struct CwSweepInverse {
  size_t length;
  const CwFft *fft;
  CwComplex *inverse; /* spectrum to multiply with */
  CwComplex *bins;    /* work space */
  double *padded;     /* work space */
};

CwSweep cw_sweep_design(double start_hz, double stop_hz, double growth_seconds, double level_dbfs,
                        double protect_hz)
{
  CwSweep sweep = {.start_hz = start_hz,
                   .stop_hz = stop_hz,
                   .protect_hz = protect_hz,
                   .protect_order = CW_SWEEP_PROTECT_ORDER,
                   .fade_in_octaves = CW_SWEEP_FADE_IN_OCTAVES,
                   .fade_out_octaves = CW_SWEEP_FADE_OUT_OCTAVES,
                   .level = pow(10, level_dbfs / 20)};

  sweep.growth_seconds = fmax(1, rint(start_hz * growth_seconds)) / start_hz;
  sweep.seconds = sweep.growth_seconds * log(stop_hz / start_hz);
  return sweep;
}

size_t cw_sweep_frames(const CwSweep *sweep, double rate_hz)
{
  return (size_t)floor(sweep->seconds * rate_hz) + 1;
}

double cw_sweep_shape(const CwSweep *sweep, double hz)
{
  return sweep->protect_hz > 0 ? 1 / sqrt(1 + pow(sweep->protect_hz / hz, 2 * sweep->protect_order)) : 1;
}

/* Raised-cosine fades over parts of an octave, so that they look alike in every band. At the very ends 0 / 0
 * is no number, which fmin() takes for no fade. */
static double fade(const CwSweep *sweep, double octave, double octaves)
{
  double in = fmin(octave / sweep->fade_in_octaves, 1),
         out = fmin((octaves - octave) / sweep->fade_out_octaves, 1);
  if (in == 1 && out == 1)
    return 1;
  return 0.25 * (1 - cos(M_PI * fmax(in, 0))) * (1 - cos(M_PI * fmax(out, 0)));
}

void cw_sweep_render(const CwSweep *sweep, double rate_hz, double *out)
{
  size_t frames = cw_sweep_frames(sweep, rate_hz);
  /* A recorder hears nothing above half its rate: there the sweep ends for it. */
  double octaves = log2(fmin(sweep->stop_hz, rate_hz / 2) / sweep->start_hz), growth = sweep->growth_seconds;

  for (size_t i = 0; i < frames; i++) {
    double seconds = (double)i / rate_hz, factor = exp(seconds / growth), hz = sweep->start_hz * factor;
    double cycles = sweep->start_hz * growth * factor;
    double amplitude =
        sweep->level * cw_sweep_shape(sweep, hz) * fade(sweep, seconds / growth / M_LN2, octaves);
    out[i] += amplitude * sin(2 * M_PI * (cycles - floor(cycles)));
  }
}

double cw_sweep_harmonic_advance(const CwSweep *sweep, int harmonic)
{
  return sweep->growth_seconds * log(harmonic);
}

/* 1 / X with the division held where the fades leave little to divide by. */
static void invert_spectrum(CwSweepInverse *inverse, const CwSweep *sweep, double rate_hz)
{
  size_t bins = inverse->length / 2 + 1;
  double floor_power = pow(10, FALL_FLOOR_DB / 10);

  for (size_t i = 0; i < bins; i++) {
    double hz = (double)i * rate_hz / (double)inverse->length, power, expected, least;
    if (hz < sweep->start_hz || hz > sweep->stop_hz) {
      inverse->inverse[i] = 0;
      continue;
    }
    power =
        creal(inverse->bins[i]) * creal(inverse->bins[i]) + cimag(inverse->bins[i]) * cimag(inverse->bins[i]);
    expected = sweep->level * cw_sweep_shape(sweep, hz) * 0.5 * sqrt(sweep->growth_seconds / hz) * rate_hz;
    least = expected * expected * floor_power;
    inverse->inverse[i] = conj(inverse->bins[i]) / fmax(power, least);
  }
}

CwSweepInverse *cw_sweep_inverse_new(const CwSweep *sweep, double rate_hz, size_t frames)
{
  CwSweepInverse *inverse = cw_alloc_bytes(sizeof *inverse);
  size_t own = cw_sweep_frames(sweep, rate_hz), length = cw_fft_good_length(frames > own ? frames : own);

  inverse->length = length;
  inverse->fft = cw_fft_get(length);
  inverse->padded = cw_alloc_real(length);
  inverse->bins = cw_alloc_complex(length / 2 + 1);
  inverse->inverse = cw_alloc_complex(length / 2 + 1);
  cw_sweep_render(sweep, rate_hz, inverse->padded);
  cw_fft_forward(inverse->fft, inverse->padded, inverse->bins);
  invert_spectrum(inverse, sweep, rate_hz);
  return inverse;
}

void cw_sweep_inverse_free(CwSweepInverse *inverse)
{
  if (!inverse)
    return;
  cw_free(inverse->padded);
  cw_free(inverse->bins);
  cw_free(inverse->inverse);
  cw_free(inverse);
}

size_t cw_sweep_inverse_length(const CwSweepInverse *inverse)
{
  return inverse->length;
}

void cw_sweep_deconvolve(CwSweepInverse *inverse, const double *recording, size_t frames, double *response)
{
  size_t bins = inverse->length / 2 + 1;
  const double *samples = recording;

  if (frames < inverse->length) {
    memcpy(inverse->padded, recording, frames * sizeof *recording);
    memset(inverse->padded + frames, 0, (inverse->length - frames) * sizeof *recording);
    samples = inverse->padded;
  }
  cw_fft_forward(inverse->fft, samples, inverse->bins);
  for (size_t i = 0; i < bins; i++) {
    double a = creal(inverse->bins[i]), b = cimag(inverse->bins[i]);
    double c = creal(inverse->inverse[i]), d = cimag(inverse->inverse[i]);
    inverse->bins[i] = (a * c - b * d) + I * (a * d + b * c);
  }
  cw_fft_inverse(inverse->fft, inverse->bins, response);
}

/* Cuts out_length samples round centre (wrapping) under a window that is flat inside and falls over a quarter
 * at either side. */
static void cut(const double *response, size_t length, double centre, double *out, size_t out_length)
{
  long first = lrint(centre) - (long)out_length / 2;
  size_t edge = out_length / 4;

  for (size_t i = 0; i < out_length; i++) {
    double window = 1;
    long at = (first + (long)i) % (long)length;
    if (i < edge)
      window = 0.5 - 0.5 * cos(M_PI * ((double)i + 0.5) / (double)edge);
    else if (i >= out_length - edge)
      window = 0.5 - 0.5 * cos(M_PI * ((double)(out_length - i) - 0.5) / (double)edge);
    out[i] = window * response[at < 0 ? at + (long)length : at];
  }
}

/* Magnitude of the spectrum at one frequency; four sums side by side, so that no product waits for the one
 * before it. */
static double magnitude_at(const double *samples, size_t count, double hz, double rate_hz)
{
  double w = 2 * M_PI * hz / rate_hz;
  CwComplex step = cos(4 * w) - I * sin(4 * w), phase[4], sum[4] = {0};

  for (int k = 0; k < 4; k++)
    phase[k] = cos(k * w) - I * sin(k * w);
  for (size_t i = 0; i < count; i += 4)
    for (size_t k = 0; k < 4; k++) {
      sum[k] += i + k < count ? samples[i + k] * phase[k] : 0;
      phase[k] *= step;
    }
  return cabs(sum[0] + sum[1] + sum[2] + sum[3]);
}

/* Low frequencies need a longer window to be told apart; high ones do well with a short one, which holds less
 * noise. */
#define LOW_HZ 100.0
#define LOW_WINDOW_SECONDS 0.8
#define HIGH_WINDOW_SECONDS 0.25

void cw_sweep_distortion(const CwSweep *sweep, double rate_hz, const double *response, size_t length,
                         double origin, int harmonic, const double *hz, size_t count, double *ratio)
{
  /* Half the way to the nearer neighbour on either side bounds the window. */
  double gap_seconds = sweep->growth_seconds * log((harmonic + 1.0) / harmonic);
  double part_origin = origin - cw_sweep_harmonic_advance(sweep, harmonic) * rate_hz;

  for (int low = 0; low < 2; low++) {
    double seconds = fmin(gap_seconds, low ? LOW_WINDOW_SECONDS : HIGH_WINDOW_SECONDS);
    size_t window = 2 * (size_t)(seconds * rate_hz / 2) + 2;
    double *linear = cw_alloc_real(window), *part = cw_alloc_real(window);

    cut(response, length, origin, linear, window);
    cut(response, length, part_origin, part, window);
    for (size_t i = 0; i < count; i++) {
      double out_hz = hz[i] * harmonic;
      bool inside =
          hz[i] >= sweep->start_hz * 1.25 && out_hz <= sweep->stop_hz * 0.97 && out_hz < 0.49 * rate_hz;
      if (!inside)
        ratio[i] = NAN;
      else if ((hz[i] < LOW_HZ) == low)
        ratio[i] = magnitude_at(part, window, out_hz, rate_hz) * cw_sweep_shape(sweep, out_hz) /
                   (magnitude_at(linear, window, hz[i], rate_hz) * cw_sweep_shape(sweep, hz[i]));
    }
    cw_free(linear);
    cw_free(part);
  }
}
