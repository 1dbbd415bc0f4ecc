/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/stimulus/marker.h"
#include "signal/response/bands.h"
#include "signal/sort.h"
#include <math.h>
#include <string.h>

#define MOST_BANDS 32
#define LEAST_OVER_NOISE 30.0 /* 15 dB */
#define SEARCH_SECONDS 0.5e-3 /* by which the hits' interval may be off */
#define GROUP_HZ 60.0
#define SINC_REACH 24 /* samples on either side, for interpolation */

size_t cw_marker_frames(const CwMarker *marker, double rate_hz)
{
  return (size_t)floor(marker->seconds * rate_hz) + 1;
}

void cw_marker_render(const CwMarker *marker, double rate_hz, double *out)
{
  size_t frames = cw_marker_frames(marker, rate_hz);
  double slope = (marker->high_hz - marker->low_hz) / marker->seconds;

  for (size_t i = 0; i < frames; i++) {
    double t = (double)i / rate_hz,
           edge = fmin(t, marker->seconds - t) / (marker->fade_part * marker->seconds);
    double window = edge < 1 ? 0.5 - 0.5 * cos(M_PI * fmax(edge, 0)) : 1;
    out[i] += marker->level * window * sin(2 * M_PI * (marker->low_hz + 0.5 * slope * t) * t);
  }
}

/* The matched filter's output as an analytic signal: its magnitude is the envelope. */
static CwComplex *correlate(const CwMarker *marker, double rate_hz, const double *recording, size_t frames,
                            size_t *length)
{
  size_t own = cw_marker_frames(marker, rate_hz), count = cw_fft_good_length(frames + own);
  const CwFft *fft = cw_fft_get(count);
  double *samples = cw_alloc_real(count);
  CwComplex *burst = cw_alloc_complex(count / 2 + 1), *both = cw_alloc_complex(count);

  cw_marker_render(marker, rate_hz, samples);
  cw_fft_forward(fft, samples, burst);
  memcpy(samples, recording, frames * sizeof *recording);
  memset(samples + frames, 0, (count - frames) * sizeof *samples);
  cw_fft_forward(fft, samples, both);
  for (size_t i = 0; i <= count / 2; i++) {
    double hz = (double)i * rate_hz / (double)count;
    bool inside = hz > 0.8 * marker->low_hz && hz < 1.1 * marker->high_hz;
    both[i] = inside ? both[i] * conj(burst[i]) / (double)count : 0;
  }
  memset(both + count / 2 + 1, 0, (count - count / 2 - 1) * sizeof *both);
  cw_fft_complex(both, count, 1);
  cw_free(samples);
  cw_free(burst);
  *length = count;
  return both;
}

static CwComplex between(const CwComplex *values, size_t count, double position)
{
  long nearest = lrint(position);
  CwComplex sum = 0;

  for (long k = nearest - SINC_REACH; k <= nearest + SINC_REACH; k++) {
    double x = position - (double)k, w = cos(M_PI * x / (2 * SINC_REACH + 2));
    long at = ((k % (long)count) + (long)count) % (long)count;
    sum += values[at] * (fabs(x) < 1e-12 ? 1 : sin(M_PI * x) / (M_PI * x)) * w * w;
  }
  return sum;
}

static double peak_between(const CwComplex *values, size_t count, double around)
{
  double low = around - 1, high = around + 1;

  for (int i = 0; i < 60; i++) {
    double a = low + (high - low) / 3, b = high - (high - low) / 3;
    if (cabs(between(values, count, a)) < cabs(between(values, count, b)))
      low = a;
    else
      high = b;
  }
  return 0.5 * (low + high);
}

static void sort_by_time(CwMarkerHit *hits, size_t count)
{
  for (size_t i = 1; i < count; i++)
    for (size_t k = i; k > 0 && hits[k - 1].at_seconds > hits[k].at_seconds; k--) {
      CwMarkerHit swap = hits[k];
      hits[k] = hits[k - 1];
      hits[k - 1] = swap;
    }
}

/* The mean power of the noise in an envelope by its lower tenth, which bursts do not reach: an envelope of
 * noise has a tenth of its samples below 0.105 of its mean power (Rayleigh). */
static double noise_power(const double *envelope, size_t frames)
{
  enum { EVERY = 16 };
  size_t count = frames / EVERY;
  double *sorted = cw_alloc_real(count + 1), tenth;

  for (size_t i = 0; i < count; i++)
    sorted[i] = envelope[i * EVERY];
  cw_sort_rising(sorted, count);
  tenth = sorted[count / 10];
  cw_free(sorted);
  return tenth * tenth / 0.105;
}

static size_t strongest(const double *envelope, size_t frames)
{
  size_t best = 0;
  for (size_t i = 1; i < frames; i++)
    if (envelope[i] > envelope[best])
      best = i;
  return best;
}

/* The floor over which hits are judged: what is left of the envelope without them, and no less than its
 * noise, for in a short recording next to nothing may be left. */
static double floor_of(const double *envelope, size_t frames, double noise)
{
  double power = 0;
  size_t rest = 0;

  for (size_t i = 0; i < frames; i++) {
    power += envelope[i] * envelope[i];
    rest += envelope[i] > 0;
  }
  power = fmax(rest ? power / (double)rest : 0, noise);
  return power > 0 ? 10 * log10(power) : -300;
}

size_t cw_marker_find(const CwMarker *marker, double rate_hz, const double *recording, size_t frames,
                      double apart_seconds, double least_snr_db, CwMarkerHit *hits, size_t most)
{
  size_t length, found = 0, kept = 0;
  CwComplex *output = correlate(marker, rate_hz, recording, frames, &length);
  double *envelope = cw_alloc_real(frames), noise;
  long apart = lrint(apart_seconds * rate_hz);

  for (size_t i = 0; i < frames; i++)
    envelope[i] = cabs(output[i]);
  noise = noise_power(envelope, frames);
  while (found < most) {
    size_t best = strongest(envelope, frames);
    if (!(envelope[best] * envelope[best] > noise))
      break;
    double peak = peak_between(output, length, (double)best);
    hits[found].at_seconds = peak / rate_hz;
    hits[found].snr_db = 20 * log10(envelope[best]);
    hits[found].sign = creal(between(output, length, peak)) < 0 ? -1 : 1;
    found++;
    for (long i = (long)best - apart; i <= (long)best + apart; i++)
      if (i >= 0 && i < (long)frames)
        envelope[i] = 0;
  }
  double floor_db = floor_of(envelope, frames, noise);
  for (size_t i = 0; i < found; i++) {
    hits[i].snr_db -= floor_db;
    if (hits[i].snr_db >= least_snr_db)
      hits[kept++] = hits[i];
  }
  sort_by_time(hits, kept);
  cw_free(envelope);
  cw_free(output);
  return kept;
}

/* Spectrum of a Hann-windowed stretch; what lies outside the recording counts as silence. */
static void stretch_spectrum(const double *recording, size_t frames, long first, size_t count,
                             CwComplex *bins)
{
  double *part = cw_alloc_real(count);

  for (size_t i = 0; i < count; i++) {
    long at = first + (long)i;
    double window = 0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)count);
    part[i] = at >= 0 && at < (long)frames ? window * recording[at] : 0;
  }
  cw_fft_forward(cw_fft_get(count), part, bins);
  cw_free(part);
}

/* The delay of one spectrum against another near 0 at which all of the band agrees: hits may be off by more
 * than a cycle of what a tweeter's lead carries. Bins are joined to groups over which the phase hardly turns
 * within the search. */
static double coherent_delay(const CwMarker *marker, const CwComplex *a, const CwComplex *b, size_t bins,
                             double bin_hz)
{
  size_t join = (size_t)fmax(1, floor(GROUP_HZ / bin_hz)), groups = bins / join, used = 0;
  double best = -INFINITY, at = 0, step = 1 / (12 * marker->high_hz), *hz = cw_alloc_real(groups + 1);
  CwComplex *group = cw_alloc_complex(groups + 1);

  for (size_t g = 0; g < groups; g++) {
    hz[used] = ((double)(g * join) + 0.5 * (double)(join - 1)) * bin_hz;
    group[used] = 0;
    if (hz[used] < marker->low_hz || hz[used] > marker->high_hz)
      continue;
    for (size_t i = g * join; i < (g + 1) * join; i++)
      group[used] += b[i] * conj(a[i]);
    used++;
  }
  for (double delay = -SEARCH_SECONDS; delay <= SEARCH_SECONDS; delay += step) {
    double sum = 0;
    for (size_t g = 0; g < used; g++) {
      double turn = 2 * M_PI * hz[g] * delay;
      sum += creal(group[g]) * cos(turn) - cimag(group[g]) * sin(turn);
    }
    if (sum > best) {
      best = sum;
      at = delay;
    }
  }
  cw_free(hz);
  cw_free(group);
  return at;
}

double cw_marker_interval(const CwMarker *marker, double rate_hz, const double *recording, size_t frames,
                          double first_seconds, double second_seconds, double window_seconds)
{
  size_t count = cw_fft_good_length((size_t)(window_seconds * rate_hz));
  double middle = 0.5 * (marker->seconds * rate_hz - (double)count), extra = 0;
  long first = lrint(first_seconds * rate_hz + middle), second = lrint(second_seconds * rate_hz + middle);
  CwComplex *a = cw_alloc_complex(count / 2 + 1), *b = cw_alloc_complex(count / 2 + 1);

  stretch_spectrum(recording, frames, first, count, a);
  stretch_spectrum(recording, frames, second, count, b);
  extra = rate_hz * coherent_delay(marker, a, b, count / 2, rate_hz / (double)count);
  for (int round = 0; round < 3;
       round++) { /* the phase may turn more than half a cycle before the delay is known */
    double slope = 0, weight = 0;
    for (size_t i = 1; i < count / 2; i++) {
      double hz = (double)i * rate_hz / (double)count, w = 2 * M_PI * hz / rate_hz;
      if (hz < marker->low_hz || hz > marker->high_hz)
        continue;
      CwComplex cross = b[i] * conj(a[i]) * (cos(w * extra) + I * sin(w * extra));
      double power = cabs(cross);
      slope += power * w * -carg(cross);
      weight += power * w * w;
    }
    extra += weight > 0 ? slope / weight : 0;
  }
  cw_free(a);
  cw_free(b);
  return ((double)(second - first) + extra) / rate_hz;
}

typedef struct {
  double one, other, noise, shared; /* powers, and the real part of the cross spectrum */
} BandSums;

static BandSums add_band(const CwBand *band, double bin_hz, double late_seconds, const CwComplex *a,
                         const CwComplex *b, const CwComplex *noise)
{
  BandSums sums = {0};

  for (size_t i = (size_t)ceil(band->low_hz / bin_hz); i <= (size_t)(band->high_hz / bin_hz); i++) {
    double turn = 2 * M_PI * bin_hz * (double)i * late_seconds;
    sums.one += creal(a[i] * conj(a[i]));
    sums.other += creal(b[i] * conj(b[i]));
    sums.noise += creal(noise[i] * conj(noise[i]));
    sums.shared += creal(b[i] * conj(a[i]) * (cos(turn) + I * sin(turn)));
  }
  return sums;
}

double cw_marker_agreement(const CwMarker *marker, double rate_hz, const double *recording, size_t frames,
                           double first_seconds, double second_seconds, double window_seconds, double from_hz)
{
  size_t count = cw_fft_good_length((size_t)(window_seconds * rate_hz)), used = 0;
  double middle = 0.5 * (marker->seconds * rate_hz - (double)count), bin_hz = rate_hz / (double)count,
         sum = 0;
  long first = lrint(first_seconds * rate_hz + middle), second = lrint(second_seconds * rate_hz + middle);
  CwComplex *spectrum[3];
  CwBand bands[MOST_BANDS];
  size_t found = cw_bands_within(3, fmax(from_hz, marker->low_hz), marker->high_hz, bands, MOST_BANDS);

  if (first < (long)count)
    return NAN;
  for (int i = 0; i < 3; i++) {
    spectrum[i] = cw_alloc_complex(count / 2 + 1);
    stretch_spectrum(recording, frames,
                     i == 0   ? first
                     : i == 1 ? second
                              : first - (long)count,
                     count, spectrum[i]);
  }
  double late = second_seconds - first_seconds - (double)(second - first) / rate_hz;
  for (size_t i = 0; i < found && i < MOST_BANDS; i++) {
    BandSums s = add_band(&bands[i], bin_hz, late, spectrum[0], spectrum[1], spectrum[2]);
    double one = s.one - s.noise, other = s.other - s.noise, least = s.noise * LEAST_OVER_NOISE;
    if (!(one > least && other > least))
      continue;
    sum += s.shared / sqrt(one * other);
    used++;
  }
  for (int i = 0; i < 3; i++)
    cw_free(spectrum[i]);
  return used >= 3 ? sum / (double)used : NAN;
}
