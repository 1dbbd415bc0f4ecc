/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/response_curves.h"
#include "signal/filters/weighting_filter.h"
#include "signal/response/smoothing.h"
#include <math.h>

#define FADE_PART 0.25
#define FALL_FROM_DB (-5.0)
#define FALL_TO_DB (-25.0)
#define CLEAR_DB 10.0 /* how far above what the last tenth holds the stretch must end */

/* 1 up to the fade, falling to 0 at the end of the window after the arrival. */
static double window_at(double after_seconds, double window_seconds)
{
  double left = (window_seconds - after_seconds) / (FADE_PART * window_seconds);

  if (window_seconds <= 0 || left >= 1)
    return 1;
  return left <= 0 ? 0 : 0.5 - 0.5 * cos(M_PI * left);
}

CwComplex *cw_kept_impulse_spectrum(const CwKeptImpulse *impulse, double window_seconds, size_t *length)
{
  double late = impulse->arrival_seconds - impulse->start_seconds, *samples;
  CwComplex *bins;

  *length = cw_fft_good_length(impulse->frames + impulse->frames / 4);
  samples = cw_alloc_real(*length);
  bins = cw_alloc_complex(*length / 2 + 1);
  for (size_t i = 0; i < impulse->frames; i++)
    samples[i] = (double)impulse->samples[i] * window_at((double)i / impulse->rate_hz - late, window_seconds);
  cw_fft_forward(cw_fft_get(*length), samples, bins);
  for (size_t i = 0; i <= *length / 2; i++) {
    double turn = 2 * M_PI * fmod((double)i * late * impulse->rate_hz / (double)*length, 1);
    bins[i] *= cos(turn) + I * sin(turn);
  }
  cw_free(samples);
  return bins;
}

void cw_spectrum_group_delay(const CwComplex *spectrum, size_t length, double rate_hz, int fraction,
                             const double *hz, size_t count, double *seconds)
{
  size_t bins = length / 2 + 1;
  double bin_hz = rate_hz / (double)length, *turned = cw_alloc_real(bins), *power = cw_alloc_real(bins),
         *mean = cw_alloc_real(count);

  /* -d phase / d omega weighed by power: the cross-spectrum of neighbours turns by their difference in phase.
   */
  for (size_t i = 0; i + 1 < bins; i++) {
    CwComplex cross = spectrum[i + 1] * conj(spectrum[i]);
    power[i] = cabs(cross);
    turned[i] = -carg(cross) / (2 * M_PI * bin_hz) * power[i];
  }
  cw_smooth_power(turned, bins, bin_hz, 1.0 / fraction, hz, count, seconds);
  cw_smooth_power(power, bins, bin_hz, 1.0 / fraction, hz, count, mean);
  for (size_t i = 0; i < count; i++)
    seconds[i] = mean[i] > 0 ? seconds[i] / mean[i] : NAN;
  cw_free(turned);
  cw_free(power);
  cw_free(mean);
}

/* Least squares through the energy curve between two levels; seconds for 60 dB. NAN if it never gets there.
 */
static double fit_fall(const double *left_db, size_t frames, double rate_hz)
{
  double n = 0, t_sum = 0, l_sum = 0, tt = 0, tl = 0;

  for (size_t i = 0; i < frames && left_db[i] >= FALL_TO_DB; i++) {
    double t = (double)i / rate_hz;
    if (left_db[i] > FALL_FROM_DB)
      continue;
    n++;
    t_sum += t;
    l_sum += left_db[i];
    tt += t * t;
    tl += t * left_db[i];
  }
  double slope = (n * tl - t_sum * l_sum) / (n * tt - t_sum * t_sum);
  return n > 2 && slope < 0 ? -60 / slope : NAN;
}

double cw_kept_impulse_decay_seconds(const CwKeptImpulse *impulse, const CwBand *band)
{
  CwCoefficients cascade[CW_BAND_FILTER_SECTIONS];
  size_t sections = cw_band_filter_design(band, impulse->rate_hz, cascade), tail = impulse->frames / 10;
  double *samples = cw_alloc_real(impulse->frames), all = 0, noise = 0, left = 0, seconds;

  for (size_t i = 0; i < impulse->frames; i++)
    samples[i] = (double)impulse->samples[impulse->frames - 1 - i];
  /* Backwards, so that the filter's own ringing falls before the sound and not into its decay (ISO
   * 3382-2, 7.3). */
  if (sections)
    cw_cascade_run(cascade, sections, samples, impulse->frames);
  for (size_t i = 0; i < impulse->frames; i++) {
    all += samples[i] * samples[i];
    noise += i < tail ? samples[i] * samples[i] / (double)tail : 0;
  }
  for (size_t i = 0; i < impulse->frames;
       i++) { /* the integral from the end, which is where samples begins */
    left += samples[i] * samples[i];
    samples[i] = 10 * log10(left / (all + 1e-300) + 1e-30);
  }
  double *left_db = cw_alloc_real(impulse->frames);
  for (size_t i = 0; i < impulse->frames; i++)
    left_db[i] = samples[impulse->frames - 1 - i];
  seconds = fit_fall(left_db, impulse->frames, impulse->rate_hz);
  double floor_db = 10 * log10(noise * (double)impulse->frames / (all + 1e-300) + 1e-30);
  cw_free(samples);
  cw_free(left_db);
  return sections && floor_db < FALL_TO_DB - CLEAR_DB ? seconds : NAN;
}
