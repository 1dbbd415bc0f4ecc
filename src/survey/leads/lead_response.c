/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/leads/lead_response.h"
#include "signal/response/smoothing.h"
#include "signal/response/spectrum.h"
#include <math.h>
#include <string.h>

#define BEFORE_SECONDS 0.25 /* of the segment that is deconvolved */
#define AFTER_SECONDS 0.55
#define WINDOW_BEFORE_SECONDS 0.28 /* of the impulse response, about an undelayed start */
#define WINDOW_FLAT_BEFORE_SECONDS 0.03
#define WINDOW_FLAT_SECONDS 0.35
#define WINDOW_SECONDS 0.85
#define PEAK_SECONDS 0.25 /* the latest that a lead may be */
#define EARLY_SECONDS 0.02
#define LATE_SECONDS 0.012 /* up to which a lead's window stands where an undelayed one's does */
#define KERNEL_OCTAVES                                                                                       \
  (0.4 / CW_LEAD_PER_OCTAVE) /* standard deviation of the mean over neighbouring bins                        \
                              */
#define KERNEL_LEAST_BINS 0.6
#define NOISE_WINDOW_SECONDS 0.2
#define NOISE_OCTAVES (1.0 / 3)

double cw_lead_hz(size_t point)
{
  return 20 * exp2(((double)point - CW_LEAD_BELOW) / CW_LEAD_PER_OCTAVE);
}

/* Where the segment for a sweep begins, and how long it is; it may reach beyond the recording. */
static long segment(const CwRecordedTake *h, size_t which, size_t *frames)
{
  const CwStimulusSweep *s = &h->stimulus.sweep[which];

  *frames = (size_t)((s->sweep.seconds + BEFORE_SECONDS + AFTER_SECONDS) * h->place.player_rate_hz);
  return lrint(floor(h->place.start_frame + (s->at_seconds - BEFORE_SECONDS) * h->place.player_rate_hz));
}

CwSweepInverse *cw_recorded_take_inverse(const CwRecordedTake *heard, size_t which)
{
  size_t frames;
  segment(heard, which, &frames);
  return cw_sweep_inverse_new(&heard->stimulus.sweep[which].sweep, heard->place.player_rate_hz, frames);
}

static double window_at(double seconds)
{
  double edge = 1;
  if (seconds < -WINDOW_FLAT_BEFORE_SECONDS)
    edge = (seconds + WINDOW_BEFORE_SECONDS) / (WINDOW_BEFORE_SECONDS - WINDOW_FLAT_BEFORE_SECONDS);
  else if (seconds > WINDOW_FLAT_SECONDS)
    edge = (WINDOW_SECONDS - seconds) / (WINDOW_SECONDS - WINDOW_FLAT_SECONDS);
  return 0.5 - 0.5 * cos(M_PI * fmin(fmax(edge, 0), 1));
}

/* Noise power density over frequency, per hertz, one-sided, of the channel's silences at the response's
 * points. */
static void noise_density(const CwRecordedTake *h, size_t c, double *density)
{
  size_t window = 2 * (size_t)(NOISE_WINDOW_SECONDS * h->rate_hz / 2), bins = window / 2 + 1, total = 0;
  double *power = cw_alloc_real(bins), *one = cw_alloc_real(bins), *part, hz[CW_LEAD_POINTS],
         bin_hz = h->rate_hz / (double)window;

  for (size_t s = 0; s < h->silences; s++) {
    size_t count = h->silence[s].count;
    double mean = 0;
    part = cw_alloc_real(count);
    for (size_t i = 0; i < count; i++)
      mean += h->channel[c][h->silence[s].first + i] / (double)count;
    for (size_t i = 0; i < count; i++)
      part[i] = h->channel[c][h->silence[s].first + i] - mean;
    cw_welch_power(part, count, window, one);
    for (size_t i = 0; i < bins; i++)
      power[i] += one[i] * (double)count;
    total += count;
    cw_free(part);
  }
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    hz[i] = cw_lead_hz(i);
  cw_smooth_power(power, bins, bin_hz, NOISE_OCTAVES, hz, CW_LEAD_POINTS, density);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    density[i] /= fmax((double)total, 1) * bin_hz;
  cw_free(power);
  cw_free(one);
}

/* The parabola through the bins about a point, weighted by nearness, at the point: weights for the bins,
 * given their distances. A plain mean would lose where the response bends or turns within its reach, as on
 * the slopes of a woofer's low-pass. Moving least squares: Cleveland, J. Am. Stat. Assoc. 74, 1979. */
static void fit_weights(const double *apart, size_t count, double *weight)
{
  double m[5] = {0};

  for (size_t i = 0; i < count; i++) {
    double power = weight[i] = exp(-0.5 * apart[i] * apart[i]);
    for (size_t k = 0; k < 5; k++, power *= apart[i])
      m[k] += power;
  }
  /* the first row of the inverse of the moments' matrix */
  double a = m[2] * m[4] - m[3] * m[3], b = m[2] * m[3] - m[1] * m[4], c = m[1] * m[3] - m[2] * m[2],
         determinant = m[0] * a + m[1] * b + m[2] * c;
  bool flat = !(determinant > 1e-9 * m[0] * m[2] * m[4]);
  for (size_t i = 0; i < count; i++)
    weight[i] *= flat ? 1 / m[0] : (a + b * apart[i] + c * apart[i] * apart[i]) / determinant;
}

/* The response at each point from the bins about it, each turned back by the peak's delay. */
static void to_points(const CwComplex *bins, size_t count, double bin_hz, double peak_seconds,
                      CwLeadResponse *r, double *averaged)
{
  double *apart = cw_alloc_real(count), *weight = cw_alloc_real(count);

  for (size_t p = 0; p < CW_LEAD_POINTS; p++) {
    double hz = cw_lead_hz(p), width = fmax(hz * M_LN2 * KERNEL_OCTAVES, KERNEL_LEAST_BINS * bin_hz),
           square = 0;
    size_t first = (size_t)fmax(1, ceil((hz - 3.5 * width) / bin_hz)),
           last = (size_t)fmin((double)count - 1, floor((hz + 3.5 * width) / bin_hz));
    CwComplex sum = 0, turn = cexp(2 * M_PI * I * bin_hz * peak_seconds),
              phase = cexp(2 * M_PI * I * bin_hz * (double)first * peak_seconds);
    for (size_t i = first; i <= last; i++)
      apart[i - first] = ((double)i * bin_hz - hz) / width;
    fit_weights(apart, last + 1 - first, weight);
    for (size_t i = first; i <= last; i++, phase *= turn) {
      sum += weight[i - first] * bins[i] * phase;
      square += weight[i - first] * weight[i - first];
    }
    r->value[p] = sum;
    averaged[p] = 1 / square;
  }
  cw_free(apart);
  cw_free(weight);
}

/* noise_power is told the power of noise in one bin for each sample under the window. */
static void expect_noise(const CwRecordedTake *h, const CwSweep *sweep, size_t c, double window_energy,
                         const double *averaged, CwLeadResponse *r, double *noise_power)
{
  noise_density(h, c, r->noise);
  for (size_t p = 0; p < CW_LEAD_POINTS; p++) {
    double inside = fmin(fmax(cw_lead_hz(p), sweep->start_hz), sweep->stop_hz);
    double driven = sweep->level * 0.5 * sqrt(sweep->growth_seconds / inside) * h->place.player_rate_hz;
    double independent = fmax(1, 0.6 * averaged[p]); /* the window makes neighbouring bins alike */
    noise_power[p] = 0.5 * r->noise[p] * h->rate_hz / (driven * driven);
    r->noise[p] = sqrt(noise_power[p] * window_energy / independent);
  }
}

/* The sample of the response in which the lead's arrival is largest, about an undelayed start. */
static long find_peak(const double *response, size_t length, double origin, double rate_hz)
{
  long first = lrint(ceil(origin - EARLY_SECONDS * rate_hz)), best = first;
  long count = lrint((EARLY_SECONDS + PEAK_SECONDS) * rate_hz), wrap = (long)length;

  for (long at = first; at < first + count; at++)
    if (fabs(response[(at + wrap) % wrap]) > fabs(response[(best + wrap) % wrap]))
      best = at;
  return best;
}

static void look_for_foreign(const CwRecordedTake *h, const double *response, size_t length, long peak,
                             const double *noise_power, CwForeignSound *foreign)
{
  double hz[CW_LEAD_POINTS];

  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    hz[i] = cw_lead_hz(i);
  *foreign = cw_foreign_sound_find(
      &(CwForeignLook){response, length, peak, h->rate_hz, hz, noise_power, CW_LEAD_POINTS});
}

void cw_recorded_take_respond_and_check(const CwRecordedTake *h, CwSweepInverse *inverse, size_t which,
                                        size_t c, CwLeadResponse *r, CwForeignSound *foreign)
{
  size_t frames, length = cw_sweep_inverse_length(inverse);
  long first = segment(h, which, &frames);
  const CwStimulusSweep *s = &h->stimulus.sweep[which];
  double rate = h->rate_hz, energy = 0, averaged[CW_LEAD_POINTS], noise_power[CW_LEAD_POINTS];
  double origin = h->place.start_frame + s->at_seconds * h->place.player_rate_hz - (double)first;
  double *samples = cw_alloc_real(frames), *response = cw_alloc_real(length);
  size_t window = (size_t)lrint((WINDOW_BEFORE_SECONDS + WINDOW_SECONDS) * rate),
         size = cw_fft_good_length(window);
  double *cut = cw_alloc_real(size);
  CwComplex *bins = cw_alloc_complex(size / 2 + 1);

  for (size_t i = 0; i < frames; i++) {
    long at = first + (long)i;
    samples[i] = at >= 0 && at < (long)h->frames ? h->channel[c][at] : 0;
  }
  cw_sweep_deconvolve(inverse, samples, frames, response);
  long peak = find_peak(response, length, origin, rate);
  double late = ((double)peak - origin) / rate > LATE_SECONDS ? (double)peak - rint(origin) : 0;
  long from = lrint(floor(origin + late)) - lrint(WINDOW_BEFORE_SECONDS * rate);
  for (size_t i = 0; i < window; i++) {
    long at = (from + (long)i) % (long)length;
    double w = window_at(((double)from + (double)i - origin - late) / rate);
    cut[i] = w * response[at < 0 ? at + (long)length : at];
    energy += w * w;
  }
  cw_fft_forward(cw_fft_get(size), cut, bins);
  to_points(bins, size / 2 + 1, rate / (double)size, (double)(peak - from) / rate, r, averaged);
  r->peak_seconds = ((double)peak - origin) / rate;
  expect_noise(h, &s->sweep, c, energy, averaged, r, noise_power);
  if (foreign)
    look_for_foreign(h, response, length, peak, noise_power, foreign);
  cw_free(samples);
  cw_free(response);
  cw_free(cut);
  cw_free(bins);
}

void cw_recorded_take_respond(const CwRecordedTake *heard, CwSweepInverse *inverse, size_t which, size_t c,
                              CwLeadResponse *response)
{
  cw_recorded_take_respond_and_check(heard, inverse, which, c, response, NULL);
}
