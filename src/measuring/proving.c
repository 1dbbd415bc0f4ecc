/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/proving.h"
#include "signal/response/bands.h"
#include "signal/response/spectrum.h"
#include <math.h>

#define LEAST_SNR_DB 10.0
#define BAND_RANGE_DB 15.0
#define THIRD_POINTS (CW_TAKE_POINTS_PER_OCTAVE / 3)
#define COMPARE_FROM_HZ 400.0
#define COMPARE_OCTAVES 1.5
#define LEAST_BANDS 3
#define FAINT_DB 20.0
#define MOST_BANDS 32
#define MOST_APART_SECONDS 30e-6
#define STEPS 7
#define DIRECT_SECONDS 0.002 /* after the arrival the first echoes have begun */
#define RISE_SECONDS 0.001

/* Mean power over a third of an octave from each point on; 0 where one of them is not known. */
static void third_octaves(const CwTakeResult *result, double *power)
{
  for (size_t i = 0; i < CW_TAKE_POINTS; i++) {
    power[i] = 0;
    for (size_t k = i; k < i + THIRD_POINTS && power[i] >= 0; k++)
      power[i] = k < CW_TAKE_POINTS && !isnan(result->db[k]) ? power[i] + pow(10, result->db[k] / 10) : -1;
    power[i] = fmax(power[i], 0);
  }
}

static void read_band(const CwTakeResult *result, CwProvingHeard *heard)
{
  double power[CW_TAKE_POINTS], top = 0;

  third_octaves(result, power);
  for (size_t i = 0; i < CW_TAKE_POINTS; i++)
    top = fmax(top, power[i]);
  heard->low_hz = heard->high_hz = NAN;
  for (size_t i = 0; i < CW_TAKE_POINTS; i++)
    if (top > 0 && power[i] > top * pow(10, -BAND_RANGE_DB / 10)) {
      heard->low_hz = isnan(heard->low_hz) ? result->hz[i] : heard->low_hz;
      heard->high_hz = result->hz[i + THIRD_POINTS - 1];
    }
}

CwProvingHeard cw_proving_read(const CwTakeResult *result)
{
  CwProvingHeard heard = {false, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};

  heard.sounded = !(result->faults & CW_TAKE_NO_SWEEP) && result->snr_db >= LEAST_SNR_DB;
  if (!heard.sounded)
    return heard;
  heard.level_db_spl = result->level_db_spl;
  heard.arrival_seconds = result->arrival_seconds;
  heard.polarity = result->polarity;
  heard.polarity_confidence = result->polarity_confidence;
  heard.rattle_hz = result->rattle_hz;
  read_band(result, &heard);
  for (size_t i = 0; i < CW_TAKE_DISTORTION_POINTS; i++)
    if (result->distortion_hz[i] > heard.low_hz && result->distortion_hz[i] < heard.high_hz)
      heard.distortion_percent =
          fmax(heard.distortion_percent, fmax(result->second_percent[i], result->third_percent[i]));
  return heard;
}

/* Spectrum of a response from a time on, its start turned into phase against a common origin. */
static CwComplex *spectrum_of(const CwProvingResponse *response, size_t length, double origin_seconds,
                              double from_seconds)
{
  double *samples = cw_alloc_real(length),
         late = (response->start_seconds - origin_seconds) * response->rate_hz;
  CwComplex *bins = cw_alloc_complex(length / 2 + 1);

  for (size_t i = 0; i < response->frames; i++) {
    double open = (response->start_seconds + (double)i / response->rate_hz - from_seconds) / RISE_SECONDS;
    samples[i] = (double)response->samples[i] * (open >= 1   ? 1
                                                 : open <= 0 ? 0
                                                             : 0.5 - 0.5 * cos(M_PI * open));
  }
  cw_fft_forward(cw_fft_get(length), samples, bins);
  for (size_t i = 0; i <= length / 2; i++) {
    double turn = 2 * M_PI * fmod((double)i * late / (double)length, 1);
    bins[i] *= cos(turn) - I * sin(turn);
  }
  cw_free(samples);
  return bins;
}

/* The common part of a and b in one band, signed: 1 for the same, 0 for what has nothing to do with each
 * other. */
static double common_part(const CwComplex *a, const CwComplex *b, const CwBand *band, double bin_hz,
                          double shift_seconds)
{
  double shared = 0, of_a = 0, of_b = 0;

  for (size_t i = (size_t)ceil(band->low_hz / bin_hz); i <= (size_t)(band->high_hz / bin_hz); i++) {
    double turn = 2 * M_PI * bin_hz * (double)i * shift_seconds;
    shared += creal(a[i] * conj(b[i]) * (cos(turn) + I * sin(turn)));
    of_a += creal(a[i]) * creal(a[i]) + cimag(a[i]) * cimag(a[i]);
    of_b += creal(b[i]) * creal(b[i]) + cimag(b[i]) * cimag(b[i]);
  }
  return shared / sqrt(of_a * of_b + 1e-300);
}

/* The mean over the bands of what a and b have in common, 0 to 1, for the shift in time and the sign that
 * show the most. */
static double best_agreement(const CwComplex *a, const CwComplex *b, const CwBand *bands, size_t count,
                             double bin_hz)
{
  double best = 0;

  for (int step = 0; step < STEPS; step++) {
    double seconds = MOST_APART_SECONDS * (2.0 * step / (STEPS - 1) - 1), sum = 0;
    for (size_t i = 0; i < count; i++)
      sum += common_part(a, b, &bands[i], bin_hz, seconds);
    best = fmax(best, fabs(sum) / (double)count);
  }
  return fmin(best, 1);
}

/* Third octaves over the band that both know, from least_hz on. Returns how many, 0 for less than one and a
 * half octaves. */
static size_t common_bands(const CwProvingResponse *one, const CwProvingResponse *other, double least_hz,
                           CwBand *bands)
{
  double low = fmax(least_hz, fmax(one->low_hz, other->low_hz)), high = fmin(one->high_hz, other->high_hz);
  size_t count = high >= low * exp2(COMPARE_OCTAVES) ? cw_bands_within(3, low, high, bands, MOST_BANDS) : 0;

  return count <= MOST_BANDS ? count : MOST_BANDS;
}

double cw_proving_likeness(const CwProvingResponse *one, const CwProvingResponse *other)
{
  CwBand bands[MOST_BANDS] = {0};
  size_t length = cw_fft_good_length(2 * (one->frames > other->frames ? one->frames : other->frames)),
         count = common_bands(one, other, COMPARE_FROM_HZ, bands);

  if (count == 0 || fabs(one->rate_hz / other->rate_hz - 1) > 1e-6)
    return NAN;
  double from = fmax(one->arrival_seconds, other->arrival_seconds) + DIRECT_SECONDS;
  CwComplex *a = spectrum_of(one, length, one->start_seconds, from),
            *b = spectrum_of(other, length, one->start_seconds, from);
  double best = best_agreement(a, b, bands, count, one->rate_hz / (double)length);
  cw_free(a);
  cw_free(b);
  return best;
}

/* Power of the response from a time on in each band, dB. */
static void band_levels(const CwProvingResponse *response, double from_seconds, const CwBand *bands,
                        size_t count, double *level_db)
{
  size_t length = cw_fft_good_length(response->frames);
  CwComplex *bins = spectrum_of(response, length, response->start_seconds, from_seconds);
  double *power = cw_alloc_real(length / 2 + 1);

  for (size_t i = 0; i <= length / 2; i++)
    power[i] = creal(bins[i]) * creal(bins[i]) + cimag(bins[i]) * cimag(bins[i]);
  for (size_t i = 0; i < count; i++)
    level_db[i] =
        10 * log10(cw_band_power(power, length / 2 + 1, response->rate_hz / (double)length, &bands[i]) /
                       (bands[i].high_hz - bands[i].low_hz) +
                   1e-300);
  cw_free(power);
  cw_free(bins);
}

static double highest(const double *values, size_t count)
{
  double top = -INFINITY;

  for (size_t i = 0; i < count; i++)
    top = fmax(top, values[i]);
  return top;
}

/* Where both are faint there is more of the noise than of either. */
double cw_proving_difference_db(const CwProvingResponse *one, const CwProvingResponse *other)
{
  double first[MOST_BANDS], second[MOST_BANDS], sum = 0, squares = 0;
  CwBand bands[MOST_BANDS] = {0};
  size_t count = common_bands(one, other, 0, bands), used = 0;

  band_levels(one, -INFINITY, bands, count, first);
  band_levels(other, -INFINITY, bands, count, second);
  double first_least = highest(first, count) - FAINT_DB, second_least = highest(second, count) - FAINT_DB;
  for (size_t i = 0; i < count; i++) {
    if (first[i] < first_least && second[i] < second_least)
      continue;
    sum += first[i] - second[i];
    squares += (first[i] - second[i]) * (first[i] - second[i]);
    used++;
  }
  return used >= LEAST_BANDS ? sqrt(fmax(squares / (double)used - pow(sum / (double)used, 2), 0)) : NAN;
}

/* Of the bands, those in which both sound; returns how many. */
static size_t loud_bands(const CwProvingResponse *one, const CwProvingResponse *other, CwBand *bands,
                         size_t count)
{
  double first[MOST_BANDS], second[MOST_BANDS];
  size_t kept = 0;

  band_levels(one, -INFINITY, bands, count, first);
  band_levels(other, -INFINITY, bands, count, second);
  double first_least = highest(first, count) - BAND_RANGE_DB,
         second_least = highest(second, count) - BAND_RANGE_DB;
  for (size_t i = 0; i < count; i++)
    if (first[i] > first_least && second[i] > second_least)
      bands[kept++] = bands[i];
  return kept;
}

double cw_proving_sameness(const CwProvingResponse *one, const CwProvingResponse *other)
{
  CwBand bands[MOST_BANDS] = {0};
  double low = fmax(one->low_hz, other->low_hz), high = fmin(one->high_hz, other->high_hz);
  size_t length = cw_fft_good_length(2 * (one->frames > other->frames ? one->frames : other->frames)),
         count = low < high ? cw_bands_within(3, low, high, bands, MOST_BANDS) : 0;

  count = loud_bands(one, other, bands, count < MOST_BANDS ? count : MOST_BANDS);
  if (count < LEAST_BANDS || fabs(one->rate_hz / other->rate_hz - 1) > 1e-6)
    return NAN;
  CwComplex *a = spectrum_of(one, length, one->start_seconds, -INFINITY),
            *b = spectrum_of(other, length, one->start_seconds, -INFINITY);
  double best = best_agreement(a, b, bands, count, one->rate_hz / (double)length);
  cw_free(a);
  cw_free(b);
  return best;
}

double cw_proving_louder_db(const CwProvingResponse *one, const CwProvingResponse *other)
{
  double first[MOST_BANDS], second[MOST_BANDS], sum = 0;
  CwBand bands[MOST_BANDS] = {0};
  size_t count = common_bands(one, other, 0, bands), used = 0;

  band_levels(one, one->arrival_seconds + DIRECT_SECONDS, bands, count, first);
  band_levels(other, other->arrival_seconds + DIRECT_SECONDS, bands, count, second);
  double first_least = highest(first, count) - FAINT_DB, second_least = highest(second, count) - FAINT_DB;
  for (size_t i = 0; i < count; i++)
    if (first[i] > first_least && second[i] > second_least) {
      sum += first[i] - second[i];
      used++;
    }
  return used >= LEAST_BANDS ? sum / (double)used : NAN;
}
