/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/memory.h"
#include "signal/random.h"
#include "signal/response/bands.h"
#include "signal/response/spectrum.h"
#include "signal/stimulus/noise.h"
#include <string.h>

#define RATE_HZ 48000.0

/* Largest deviation of the third-octave bands inside the noise's band from their mean, dB; the spectrum is by
 * windows much longer than the lowest band needs. */
static double worst_band_db(const double *samples, size_t frames, double low_hz, double high_hz)
{
  const size_t window = 131072;
  CwBand bands[40];
  double *power = cw_alloc_real(window / 2 + 1), level[40], mean = 0, worst = 0;
  size_t count = cw_bands_within(3, low_hz * 1.13, high_hz / 1.13, bands, G_N_ELEMENTS(bands));

  cw_welch_power(samples, frames, window, power);
  for (size_t i = 0; i < count; i++) {
    level[i] = 10 * log10(cw_band_power(power, window / 2 + 1, RATE_HZ / (double)window, &bands[i]));
    mean += level[i] / (double)count;
  }
  for (size_t i = 0; i < count; i++)
    worst = fmax(worst, fabs(level[i] - mean));
  cw_free(power);
  return worst;
}

static void check_pink(uint64_t seed, double most_crest_db)
{
  size_t frames = (size_t)(60 * RATE_HZ);
  double *samples = cw_alloc_real(frames), sum = 0, peak = 0;
  CwPinkNoise noise = {
      .seed = seed, .low_hz = 20, .high_hz = 20000, .rms = 0.1, .most_crest_db = most_crest_db};
  double crest_db = cw_pink_noise_render(&noise, RATE_HZ, frames, samples);

  for (size_t i = 0; i < frames; i++) {
    sum += samples[i] * samples[i];
    peak = fmax(peak, fabs(samples[i]));
  }
  check_below("rms", fabs(sqrt(sum / (double)frames) / 0.1 - 1), 1e-9);
  check_below("crest factor told, dB off", fabs(crest_db - 20 * log10(peak / 0.1)), 1e-9);
  if (isfinite(most_crest_db))
    check_below("crest factor, dB", crest_db, most_crest_db);
  g_test_message("crest factor %.2f dB, third octaves within %.3f dB", crest_db,
                 worst_band_db(samples, frames, 20, 20000));
  check_below("third octaves of pink noise, dB", worst_band_db(samples, frames, 20, 20000), 0.5);
  cw_free(samples);
}

static void test_pink_free(void)
{
  check_pink(1, INFINITY);
}

static void test_pink_limited(void)
{
  check_pink(2, 12);
  check_pink(3, 9);
}

/* The share of a third octave and of an octave in three decades of pink noise: pink.share, -14.77 and -10 dB,
 * by transforming one whole round, in which the magnitudes are exact up to the bins at the edges. */
static void test_pink_share(void)
{
  size_t frames = 480000;
  double *samples = cw_alloc_real(frames), *power = cw_alloc_real(frames / 2 + 1);
  CwComplex *bins = cw_alloc_complex(frames / 2 + 1);
  CwPinkNoise noise = {.seed = 5, .low_hz = 20, .high_hz = 20000, .rms = 1, .most_crest_db = 11};
  CwBand third = cw_band(3, 0), octave = cw_band(1, 0);

  cw_pink_noise_render(&noise, RATE_HZ, frames, samples);
  cw_fft_forward(cw_fft_get(frames), samples, bins);
  for (size_t i = 0; i <= frames / 2; i++)
    power[i] = 2 * creal(bins[i] * conj(bins[i])) / (double)frames / (double)frames;
  check_near("pink.share", 10 * log10(cw_band_power(power, frames / 2 + 1, 0.1, &third)),
             check_number("pink.share", "third"), 0.01);
  check_near("pink.share", 10 * log10(cw_band_power(power, frames / 2 + 1, 0.1, &octave)),
             check_number("pink.share", "octave"), 0.01);
  /* Nothing outside the band, and the slope from bin to bin: pink.slopes. */
  check_below("power below the band", power[199], 1e-25);
  check_below("power above the band", power[200001], 1e-25);
  check_near("pink.slopes", 10 * log10(power[20000] / power[10000]), check_number("pink.slopes", "oct"),
             1e-6);
  check_near("pink.slopes", 10 * log10(power[100000] / power[10000]), check_number("pink.slopes", "dec"),
             1e-6);
  cw_free(samples);
  cw_free(power);
  cw_free(bins);
}

/* Repeating is seamless: the step over the seam is no larger than steps are elsewhere, and the same seed
 * gives the same noise. */
static void test_pink_repeats(void)
{
  size_t frames = 96000;
  double *first = cw_alloc_real(frames), *second = cw_alloc_real(frames), step = 0;
  CwPinkNoise noise = {.seed = 9, .low_hz = 30, .high_hz = 15000, .rms = 0.2, .most_crest_db = 12};

  cw_pink_noise_render(&noise, RATE_HZ, frames, first);
  cw_pink_noise_render(&noise, RATE_HZ, frames, second);
  g_assert_cmpint(memcmp(first, second, frames * sizeof *first), ==, 0);
  for (size_t i = 1; i < frames; i++)
    step = fmax(step, fabs(first[i] - first[i - 1]));
  check_below("step over the seam", fabs(first[0] - first[frames - 1]), step);
  noise.seed = 10;
  cw_pink_noise_render(&noise, RATE_HZ, frames, second);
  g_assert_cmpint(memcmp(first, second, frames * sizeof *first), !=, 0);
  noise.low_hz = noise.high_hz = 100.1; /* between two bins */
  g_assert_true(isnan(cw_pink_noise_render(&noise, RATE_HZ, 4800, second)));
  g_assert_cmpfloat(second[17], ==, 0);
  cw_free(first);
  cw_free(second);
}

/* Gaussian tails as the normal distribution has them: pink.crest, within four standard deviations of a count.
 */
static void test_white(void)
{
  size_t frames = 4000000, over_6 = 0, over_9 = 0;
  double *samples = cw_alloc_real(frames), sum = 0, lag = 0;

  cw_white_noise_render(77, 0.5, frames, samples);
  for (size_t i = 0; i < frames; i++) {
    sum += samples[i] * samples[i];
    lag += i ? samples[i] * samples[i - 1] : 0;
    over_6 += fabs(samples[i]) > 0.5 * pow(10, 6.0 / 20);
    over_9 += fabs(samples[i]) > 0.5 * pow(10, 9.0 / 20);
  }
  double p6 = check_number("pink.crest", "p_over_6dB"), p9 = check_number("pink.crest", "p_over_9dB"),
         n = (double)frames;
  check_near("pink.crest", (double)over_6 / n, p6, 4 * sqrt(p6 / n));
  check_near("pink.crest", (double)over_9 / n, p9, 4 * sqrt(p9 / n));
  check_below("rms of white noise", fabs(sqrt(sum / n) / 0.5 - 1), 0.002);
  check_below("neighbours' correlation", fabs(lag / sum), 4 / sqrt(n));
  cw_free(samples);
}

/* The level of a band of noise wavers as pink.bt says: standard deviation of white noise's 1 kHz third octave
 * over 1 s. */
static void test_wavering(void)
{
  const size_t frames = 48000, rounds = 300;
  double *samples = cw_alloc_real(frames), *power = cw_alloc_real(frames / 2 + 1), sum = 0, squares = 0;
  CwComplex *bins = cw_alloc_complex(frames / 2 + 1);
  CwBand band = cw_band(3, 0);

  for (size_t r = 0; r < rounds; r++) {
    cw_white_noise_render(1000 + r, 1, frames, samples);
    cw_fft_forward(cw_fft_get(frames), samples, bins);
    for (size_t i = 0; i <= frames / 2; i++)
      power[i] = creal(bins[i] * conj(bins[i]));
    double level = 10 * log10(cw_band_power(power, frames / 2 + 1, 1, &band));
    sum += level;
    squares += level * level;
  }
  double deviation = sqrt(squares / (double)rounds - sum * sum / (double)rounds / (double)rounds);
  check_near_relative("pink.bt", check_cell("pink.bt", 4, "B"), band.high_hz - band.low_hz, 1e-4);
  check_near_relative("pink.bt", deviation, check_cell("pink.bt", 4, "exact std"),
                      4 / sqrt(2.0 * (double)rounds));
  cw_free(samples);
  cw_free(power);
  cw_free(bins);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/noise/pink-free", test_pink_free);
  g_test_add_func("/noise/pink-limited", test_pink_limited);
  g_test_add_func("/noise/pink-share", test_pink_share);
  g_test_add_func("/noise/pink-repeats", test_pink_repeats);
  g_test_add_func("/noise/white", test_white);
  g_test_add_func("/noise/wavering", test_wavering);
  return g_test_run();
}
