/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/response/arrival.h"
#include "signal/response/minimum_phase.h"
#include "signal/response/smoothing.h"
#include <math.h>
#include <string.h>

#define OVERSAMPLING 4
#define BAND_OCTAVES (1.0 / 3)
#define ALL_OF_ONE_TIME 0.85 /* confidence above which the best sum is the arrival */
#define EDGE_PART 0.3        /* of the pulse's height */
#define EDGE_LEAST_HZ 2000.0 /* of bandwidth: a longer pulse runs into the reflections */
#define EDGE_SECONDS 1e-3    /* how far before its top the pulse may begin */

void cw_excess_phase_vectors(const CwComplex *spectrum, size_t length, double rate_hz, double low_hz,
                             double high_hz, CwComplex *excess)
{
  size_t bins = length / 2 + 1;
  double bin_hz = rate_hz / (double)length, top = 0;
  size_t low = (size_t)fmin(fmax(1, ceil(low_hz / bin_hz)), (double)bins - 1),
         high = (size_t)fmin(floor(high_hz / bin_hz), (double)bins - 1);
  double *magnitude = cw_alloc_real(bins), *phase = cw_alloc_real(bins);

  for (size_t i = low; i <= high; i++) {
    magnitude[i] = cabs(spectrum[i]);
    top = fmax(top, magnitude[i]);
  }
  for (size_t i = 0; i < low; i++)
    magnitude[i] = magnitude[low] * pow(fmax((double)i, 0.5) / (double)low, 2);
  for (size_t i = high + 1; i < bins; i++)
    magnitude[i] = magnitude[high] * pow((double)high / (double)i, 2);
  for (size_t i = 0; i < bins; i++)
    magnitude[i] = fmax(magnitude[i], 1e-6 * top + 1e-300);
  cw_minimum_phase(magnitude, length, NULL, phase);
  for (size_t i = 0; i < bins; i++) {
    double size = cabs(spectrum[i]);
    excess[i] = size > 0 ? spectrum[i] / size * (cos(phase[i]) - I * sin(phase[i])) : 0;
  }
  cw_free(magnitude);
  cw_free(phase);
}

/* 1 for bins inside the band, usable, and within range_db of the band's top; else 0. */
static void choose_bins(const CwComplex *spectrum, size_t bins, double bin_hz, double low_hz, double high_hz,
                        const double *usable, double range_db, double *weight)
{
  double *power = cw_alloc_real(bins), *hz = cw_alloc_real(bins), *mean = cw_alloc_real(bins), top = 0;

  for (size_t i = 0; i < bins; i++) {
    power[i] = creal(spectrum[i]) * creal(spectrum[i]) + cimag(spectrum[i]) * cimag(spectrum[i]);
    hz[i] = fmax((double)i, 1) * bin_hz;
  }
  cw_smooth_power(power, bins, bin_hz, BAND_OCTAVES, hz, bins, mean);
  for (size_t i = 1; i < bins; i++) {
    weight[i] = hz[i] >= low_hz && hz[i] <= high_hz && (!usable || usable[i] > 0);
    if (weight[i] > 0)
      top = fmax(top, mean[i]);
  }
  for (size_t i = 0; i < bins; i++)
    weight[i] = weight[i] > 0 && mean[i] > top * pow(10, -range_db / 10);
  cw_free(power);
  cw_free(hz);
  cw_free(mean);
}

/* The delay, in samples, at which the weighted excess phase adds up best, searched on an oversampled grid. */
static double coarse_delay(const CwComplex *excess, const double *weight, size_t length)
{
  size_t fine = length * OVERSAMPLING, best = 0;
  CwComplex *bins = cw_alloc_complex(fine / 2 + 1);
  double *sum = cw_alloc_real(fine);

  for (size_t i = 0; i <= length / 2; i++)
    bins[i] = weight[i] * excess[i];
  cw_fft_inverse(cw_fft_get(fine), bins, sum);
  for (size_t i = 1; i < fine; i++)
    if (fabs(sum[i]) > fabs(sum[best]))
      best = i;
  cw_free(bins);
  cw_free(sum);
  return best > fine / 2 ? ((double)best - (double)fine) / OVERSAMPLING : (double)best / OVERSAMPLING;
}

/* The envelope, oversampled, of the pulse whose spectrum is bins. */
static double *envelope_of(const CwComplex *bins, size_t length)
{
  size_t fine = length * OVERSAMPLING;
  CwComplex *part = cw_alloc_complex(fine / 2 + 1);
  double *along = cw_alloc_real(fine), *across = cw_alloc_real(fine);

  memcpy(part, bins, (length / 2 + 1) * sizeof *part);
  cw_fft_inverse(cw_fft_get(fine), part, along);
  for (size_t i = 0; i <= fine / 2; i++)
    part[i] = i <= length / 2 ? -I * bins[i] : 0;
  cw_fft_inverse(cw_fft_get(fine), part, across);
  for (size_t i = 0; i < fine; i++)
    along[i] = hypot(along[i], across[i]);
  cw_free(part);
  cw_free(across);
  return along;
}

/* Where the envelope first reaches EDGE_PART of its top, seen from reach values before the top; between
 * values, along a straight line. Positions wrap round; the result may be negative. NAN where it is up there
 * all the way, as noise or a few lone bins are. */
static double edge_of(const double *envelope, size_t count, size_t reach)
{
  size_t top = 0, at;
  double level, before;

  for (size_t i = 1; i < count; i++)
    if (envelope[i] > envelope[top])
      top = i;
  level = EDGE_PART * envelope[top];
  at = top + count - reach;
  while (envelope[at % count] < level)
    at++;
  before = envelope[(at - 1) % count];
  if (before >= level)
    return NAN;
  return (double)at - (top > count / 2 ? 2 : 1) * (double)count -
         (envelope[at % count] - level) / fmax(envelope[at % count] - before, 1e-300);
}

/* The delay, in samples, at which the pulse of the excess phase begins, against one without any: where a
 * speaker is dispersive or a reflection is as strong as the direct sound, the sum that is largest belongs to
 * something later. The weights fall as a squared sine to both ends of the band, so that the pulse has no
 * ripple before it. NAN where the band is narrow. */
static double leading_edge(const CwComplex *excess, const double *weight, size_t length, double rate_hz)
{
  size_t bins = length / 2 + 1, low = bins, high = 0, reach;
  CwComplex *part;
  double *bare, *pulse, delay;

  for (size_t i = 1; i < bins; i++)
    if (weight[i] > 0) {
      low = low < i ? low : i;
      high = i;
    }
  if (high < low || (double)(high - low) * rate_hz / (double)length < EDGE_LEAST_HZ)
    return NAN;
  part = cw_alloc_complex(bins);
  for (size_t i = low; i <= high; i++)
    part[i] = weight[i] * pow(sin(M_PI * ((double)(i - low) + 0.5) / (double)(high - low + 1)), 2);
  bare = envelope_of(part, length);
  for (size_t i = low; i <= high; i++)
    part[i] *= excess[i];
  pulse = envelope_of(part, length);
  reach = (size_t)(EDGE_SECONDS * rate_hz * OVERSAMPLING);
  delay = (edge_of(pulse, length * OVERSAMPLING, reach) - edge_of(bare, length * OVERSAMPLING, reach)) /
          OVERSAMPLING;
  cw_free(part);
  cw_free(bare);
  cw_free(pulse);
  return delay;
}

CwArrival cw_arrival_find(const CwComplex *spectrum, size_t length, double rate_hz, double low_hz,
                          double high_hz, const double *usable, double range_db)
{
  size_t bins = length / 2 + 1;
  double *weight = cw_alloc_real(bins), total = 0, sum = 0, delay;
  CwComplex *excess = cw_alloc_complex(bins);

  cw_excess_phase_vectors(spectrum, length, rate_hz, low_hz, high_hz, excess);
  choose_bins(spectrum, bins, rate_hz / (double)length, low_hz, high_hz, usable, range_db, weight);
  delay = coarse_delay(excess, weight, length);
  for (int round = 0; round < 6; round++) { /* Newton's steps to the maximum of the coherent sum */
    double slope = 0, bend = 0;
    sum = total = 0;
    for (size_t i = 1; i < bins; i++) {
      if (weight[i] == 0)
        continue;
      double w = 2 * M_PI * (double)i / (double)length;
      CwComplex turned = excess[i] * (cos(w * delay) + I * sin(w * delay));
      sum += creal(turned);
      slope -= w * cimag(turned);
      bend -= w * w * creal(turned);
      total += 1;
    }
    double step = bend != 0 ? slope / bend : 0;
    if (fabs(step) > 1) /* not near the top of one lobe: keep what the grid found */
      break;
    delay -= step;
  }
  if (total > 0 && fabs(sum) < ALL_OF_ONE_TIME * total) {
    double edge = leading_edge(excess, weight, length, rate_hz);
    delay = isnan(edge) ? delay : edge;
  }
  cw_free(weight);
  cw_free(excess);
  return (CwArrival){delay / rate_hz, sum < 0 ? -1 : 1, total > 0 ? fabs(sum) / total : 0};
}
