/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/arrival/whitened.h"
#include "signal/fft.h"
#include "signal/log_grid.h"
#include "signal/response/minimum_phase.h"
#include "signal/response/smoothing.h"
#include <math.h>
#include <string.h>

#define SMOOTHING_OCTAVES 1.0
#define RANGE_DB 30.0
#define LEAST_SNR_DB 10.0
#define HIGHEST_HZ 20000.0
#define SWEEP_TOP 0.95            /* of the sweep's stop frequency: above it the sweep fades */
#define SOFT_OCTAVES 1.0          /* how far the lower end of the band rises */
#define FINE_RATE_HZ 160000.0     /* at least: a pulse of 20 kHz has eight values a period */
#define BEYOND_DB_PER_OCTAVE 12.0 /* how the magnitude goes on outside of the band, as most speakers do */

typedef struct {
  size_t length, bins, first, last; /* of the transform; first and last bin of the usable band */
  double bin_hz;
  CwComplex *spectrum;
  double *own; /* smoothed magnitude, extended beyond the band */
} Work;

static double snr_at(const CwEdgeSource *source, double hz)
{
  return source->snr_count ? cw_log_grid_interpolate(source->snr_hz, source->snr_db, source->snr_count, hz)
                           : 100;
}

static void transform(const CwEdgeSource *source, Work *work)
{
  double *samples;

  work->length = cw_fft_good_length(source->frames + source->frames / 8);
  work->bins = work->length / 2 + 1;
  work->bin_hz = source->rate_hz / (double)work->length;
  work->spectrum = cw_alloc_complex(work->bins);
  work->own = cw_alloc_real(work->bins);
  samples = cw_alloc_real(work->length);
  for (size_t i = 0; i < source->frames; i++)
    samples[i] = source->samples[i];
  cw_fft_forward(cw_fft_get(work->length), samples, work->spectrum);
  cw_free(samples);
}

/* The magnitude of the sweep's band, smoothed; bins outside of the sweep do not count, so that near its ends
 * the mean is that of the inner side. */
static void smooth(const CwEdgeSource *source, Work *work)
{
  double *power = cw_alloc_real(work->bins), *inside = cw_alloc_real(work->bins),
         *hz = cw_alloc_real(work->bins), *mean = cw_alloc_real(work->bins);

  for (size_t i = 0; i < work->bins; i++) {
    hz[i] = fmax((double)i, 0.5) * work->bin_hz;
    inside[i] = hz[i] > source->low_hz && hz[i] < SWEEP_TOP * source->high_hz;
    power[i] = inside[i] * (creal(work->spectrum[i]) * creal(work->spectrum[i]) +
                            cimag(work->spectrum[i]) * cimag(work->spectrum[i]));
  }
  cw_smooth_power(power, work->bins, work->bin_hz, SMOOTHING_OCTAVES, hz, work->bins, mean);
  cw_smooth_power(inside, work->bins, work->bin_hz, SMOOTHING_OCTAVES, hz, work->bins, power);
  for (size_t i = 0; i < work->bins; i++)
    work->own[i] = inside[i] > 0 ? sqrt(mean[i] / fmax(power[i], 1e-9)) : 0;
  cw_free(power);
  cw_free(inside);
  cw_free(hz);
  cw_free(mean);
}

/* The first and the last bin that is loud and clear of noise, and the magnitude's slopes beyond them. */
static bool find_band(const CwEdgeSource *source, Work *work)
{
  double top = 0, least;

  for (size_t i = 1; i < work->bins; i++)
    top = fmax(top, work->own[i]);
  least = top * pow(10, -RANGE_DB / 20);
  for (size_t i = 1; i < work->bins; i++) {
    double hz = (double)i * work->bin_hz;
    if (work->own[i] <= least || hz > HIGHEST_HZ || snr_at(source, hz) <= LEAST_SNR_DB)
      continue;
    work->first = work->first ? work->first : i;
    work->last = i;
  }
  if (work->last < work->first + 8 || work->first == 0)
    return false;
  for (size_t i = 0; i < work->bins; i++) {
    double octaves = i < work->first  ? log2((double)work->first / fmax((double)i, 0.5))
                     : i > work->last ? log2((double)i / (double)work->last)
                                      : 0;
    size_t at = i < work->first ? work->first : i > work->last ? work->last : i;
    work->own[i] = fmax(work->own[at] * pow(10, -octaves * BEYOND_DB_PER_OCTAVE / 20), 1e-5 * top);
  }
  return true;
}

/* The band's own shape: a rise over an octave, a long soft fall, and less where there is less above the
 * noise. */
static double shape(const CwEdgeSource *source, const Work *work, size_t bin)
{
  double low = (double)work->first, high = (double)work->last, at = (double)bin, rise, fall, clear;

  if (at <= low || at >= high)
    return 0;
  rise = pow(sin(M_PI / 2 * fmin(log2(at / low) / SOFT_OCTAVES, 1)), 2);
  fall = pow(cos(M_PI / 2 * at / high), 4);
  clear = pow(10, snr_at(source, at * work->bin_hz) / 10);
  return rise * fall * clear / (clear + pow(10, LEAST_SNR_DB / 10));
}

static double *to_time(const CwComplex *bins, const Work *work, size_t count)
{
  CwComplex *padded = cw_alloc_complex(count / 2 + 1);
  double *values = cw_alloc_real(count);

  memcpy(padded, bins, work->bins * sizeof *padded);
  cw_fft_inverse(cw_fft_get(count), padded, values);
  cw_free(padded);
  return values;
}

bool cw_whiten(const CwEdgeSource *source, CwWhitened *whitened)
{
  Work work = {0};
  CwComplex *speaker, *band;
  bool usable;

  *whitened = (CwWhitened){0};
  transform(source, &work);
  smooth(source, &work);
  usable = find_band(source, &work);
  if (usable) {
    size_t finer = (size_t)ceil(FINE_RATE_HZ / source->rate_hz);
    speaker = cw_alloc_complex(work.bins);
    band = cw_alloc_complex(work.bins);
    cw_minimum_phase(work.own, work.length, speaker, NULL);
    for (size_t i = 0; i < work.bins; i++) {
      band[i] = shape(source, &work, i);
      work.spectrum[i] *= band[i] / speaker[i];
    }
    whitened->rate_hz = source->rate_hz * (double)finer;
    whitened->count = work.length * finer;
    whitened->low_hz = (double)work.first * work.bin_hz;
    whitened->high_hz = (double)work.last * work.bin_hz;
    whitened->response = to_time(work.spectrum, &work, whitened->count);
    whitened->pulse = to_time(band, &work, whitened->count);
    for (size_t i = whitened->count; i-- > 0;) {
      whitened->response[i] /= whitened->pulse[0];
      whitened->pulse[i] /= whitened->pulse[0];
    }
    cw_free(speaker);
    cw_free(band);
  }
  cw_free(work.spectrum);
  cw_free(work.own);
  return usable;
}

void cw_whitened_clear(CwWhitened *whitened)
{
  cw_free(whitened->response);
  cw_free(whitened->pulse);
  *whitened = (CwWhitened){0};
}
