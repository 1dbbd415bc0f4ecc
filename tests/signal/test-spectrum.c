/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/decimator.h"
#include "signal/live/live_spectrum.h"
#include "signal/response/spectrum.h"
#include "signal/stimulus/noise.h"
#include "signals.h"
#include <stdlib.h>

#define RATE_HZ 48000.0

/* The bins over a sine add up to its mean square wherever it falls between them, and all bins to that of
 * noise. */
static void test_welch(void)
{
  const size_t frames = 192000, window = 4096;
  double *samples = cw_alloc_real(frames), *power = cw_alloc_real(window / 2 + 1), sum = 0, squares = 0;

  for (int round = 0; round < 20; round++) {
    double hz = g_test_rand_double_range(300, 15000), bin_hz = RATE_HZ / (double)window;
    CwBand band = {.low_hz = hz - 8 * bin_hz, .centre_hz = hz, .high_hz = hz + 8 * bin_hz};
    for (size_t i = 0; i < frames; i++)
      samples[i] = 0.5 * sin(2 * G_PI * hz * (double)i / RATE_HZ);
    g_assert_cmpuint(cw_welch_power(samples, frames, window, power), ==,
                     (frames - window) / (window / 2) + 1);
    check_below("sine, dB off", fabs(10 * log10(cw_band_power(power, window / 2 + 1, bin_hz, &band) / 0.125)),
                0.01);
  }
  cw_white_noise_render(4, 0.3, frames, samples);
  cw_welch_power(samples, frames, window, power);
  for (size_t i = 0; i <= window / 2; i++)
    sum += power[i];
  for (size_t i = 0; i < frames; i++)
    squares += samples[i] * samples[i] / (double)frames;
  check_below("noise, dB off", fabs(10 * log10(sum / squares)), 0.05);
  cw_free(samples);
  cw_free(power);
}

/* 0 Hz and half the rate have no mirror image: a constant and an alternating signal keep their mean square
 * exactly. */
static void test_welch_ends(void)
{
  double samples[640], power[65];

  for (int alternating = 0; alternating < 2; alternating++) {
    double sum = 0;
    for (size_t i = 0; i < G_N_ELEMENTS(samples); i++)
      samples[i] = alternating && i % 2 ? -0.7 : 0.7;
    cw_welch_power(samples, G_N_ELEMENTS(samples), 128, power);
    for (size_t i = 0; i < G_N_ELEMENTS(power); i++)
      sum += power[i];
    check_below("mean square", fabs(sum / 0.49 - 1), 1e-12);
  }
}

/* White noise rises by 1 dB a third octave: pink.slopes. */
static void test_white_in_bands(void)
{
  const size_t frames = 4800000, window = 16384;
  double *samples = cw_alloc_real(frames), *power = cw_alloc_real(window / 2 + 1), before = NAN;

  cw_white_noise_render(6, 1, frames, samples);
  cw_welch_power(samples, frames, window, power);
  for (int index = -3; index <= 12; index++) {
    CwBand band = cw_band(3, index);
    double level = 10 * log10(cw_band_power(power, window / 2 + 1, RATE_HZ / (double)window, &band));
    if (index > -3) /* the level of a band over 100 s wavers by 4.34 / sqrt(100 s times bandwidth) dB: four of
                       them, and two bands */
      check_near("pink.slopes", level - before, check_number("pink.slopes", "white_per_band"),
                 4 * 4.343 / sqrt(0.5 * 100 * (band.high_hz - band.low_hz)));
    before = level;
  }
  cw_free(samples);
  cw_free(power);
}

static void push_and_update(CwLiveSpectrum *live, const float *samples, size_t frames)
{
  for (size_t at = 0; at < frames; at += 480) {
    cw_live_spectrum_push(live, samples + at, 1, MIN((size_t)480, frames - at));
    if (at % 2400 == 0)
      cw_live_spectrum_update(live);
  }
}

static size_t nearest_band(const CwLiveSpectrum *live, double hz)
{
  const CwBand *bands = cw_live_spectrum_bands(live);
  size_t best = 0;
  for (size_t i = 0; i < cw_live_spectrum_band_count(live); i++)
    if (fabs(log(bands[i].centre_hz / hz)) < fabs(log(bands[best].centre_hz / hz)))
      best = i;
  return best;
}

static void test_live_sine(void)
{
  static const int fractions[] = {1, 3, 6, 12, 24};
  size_t frames = 144000;
  float *samples = malloc(frames * sizeof *samples);

  for (size_t f = 0; f < G_N_ELEMENTS(fractions); f++) {
    CwLiveSpectrum *live = cw_live_spectrum_new(RATE_HZ, fractions[f], 20, 20000);
    size_t count = cw_live_spectrum_band_count(live), band = nearest_band(live, 3000);
    double hz = cw_live_spectrum_bands(live)[band].centre_hz, *level = cw_alloc_real(count),
           *peak = cw_alloc_real(count);
    g_assert_cmpuint(count, ==, cw_bands_within(fractions[f], 20, 20000, NULL, 0));
    g_assert_false(cw_live_spectrum_read(live, level, peak));
    g_assert_true(isnan(level[band]) && isnan(peak[band]));
    for (size_t i = 0; i < frames; i++)
      samples[i] = (float)sin(2 * G_PI * hz * (double)i / RATE_HZ);
    push_and_update(live, samples, frames);
    g_assert_true(cw_live_spectrum_read(live, level, peak));
    g_assert_false(cw_live_spectrum_read(live, NULL, NULL));
    /* A full-scale sine in the middle of a band; in the narrowest bands some of it leaks over the edges. */
    check_below("full-scale sine, dB off", fabs(level[band] + 3.0103), 0.25);
    check_below("its peak, dB off", fabs(peak[band] + 3.0103), 0.25);
    check_below("four bands away, dB", level[band + 4 < count ? band + 4 : band - 4], -40);
    cw_live_spectrum_free(live);
    cw_free(level);
    cw_free(peak);
  }
  free(samples);
}

/* Pink noise averages to a flat line of the right height, in all bands and on both rates. */
static void test_live_pink(void)
{
  static const double rates_hz[] = {44100, 48000, 96000};

  for (size_t r = 0; r < G_N_ELEMENTS(rates_hz); r++) {
    size_t frames = (size_t)(20 * rates_hz[r]);
    double *noise = cw_alloc_real(frames);
    float *samples = malloc(frames * sizeof *samples);
    double high_hz = MIN(23000, rates_hz[r] / 2);
    CwPinkNoise pink = {.seed = 21, .low_hz = 15, .high_hz = high_hz, .rms = 0.1, .most_crest_db = INFINITY};
    CwLiveSpectrum *live = cw_live_spectrum_new(rates_hz[r], 3, 20, 20000);
    size_t count = cw_live_spectrum_band_count(live);
    double *level = cw_alloc_real(count),
           expected = 10 * log10(0.01 * log(CW_OCTAVE_RATIO) / 3 / log(high_hz / 15));

    cw_pink_noise_render(&pink, rates_hz[r], frames, noise);
    for (size_t i = 0; i < frames; i++)
      samples[i] = (float)noise[i];
    cw_live_spectrum_set_ballistics(live, CW_BALLISTICS_AVERAGE);
    push_and_update(live, samples, frames);
    cw_live_spectrum_read(live, level, NULL);
    for (size_t i = 0; i < count; i++)
      check_below("third octave of pink noise, dB off", fabs(level[i] - expected), 0.3);
    cw_live_spectrum_free(live);
    cw_free(noise);
    cw_free(level);
    free(samples);
  }
}

/* After a tone ends its level falls as the time weighting says (IEC 61672-1: fast 34.7, slow 4.34 dB a
 * second), and the peak stays. */
static void check_fall(CwBallistics ballistics, double db_a_second)
{
  size_t frames = 96000;
  float *samples = calloc(frames, sizeof *samples);
  CwLiveSpectrum *live = cw_live_spectrum_new(RATE_HZ, 3, 20, 20000);
  size_t band = nearest_band(live, 8000), count = cw_live_spectrum_band_count(live);
  double *level = cw_alloc_real(count), *peak = cw_alloc_real(count), first,
         hz = cw_live_spectrum_bands(live)[band].centre_hz;
  float *silence = calloc(frames, sizeof *silence);

  for (size_t i = 0; i < frames; i++)
    samples[i] = (float)sin(2 * G_PI * hz * (double)i / RATE_HZ);
  cw_live_spectrum_set_ballistics(live, ballistics);
  push_and_update(live, samples, frames);
  push_and_update(live, silence, 9600); /* past the window, of which the tone's end is a part */
  cw_live_spectrum_read(live, level, peak);
  first = level[band];
  push_and_update(live, silence, 48000);
  cw_live_spectrum_read(live, level, peak);
  check_below("fall in a second, part off", fabs((first - level[band]) / db_a_second - 1), 0.02);
  check_below("peak held, dB off", fabs(peak[band] + 3.0103), 0.25);
  cw_live_spectrum_reset(live);
  push_and_update(live, silence, 48000);
  cw_live_spectrum_read(live, level, peak);
  check_below("peak after a reset, dB", peak[band], -200);
  cw_live_spectrum_free(live);
  cw_free(level);
  cw_free(peak);
  free(samples);
  free(silence);
}

static void test_live_falls(void)
{
  check_fall(CW_BALLISTICS_FAST, 10 / log(10) / 0.125);
  check_fall(CW_BALLISTICS_SLOW, 10 / log(10));
}

/* Interleaved channels are told apart by the stride. */
static void test_live_stride(void)
{
  size_t frames = 96000;
  float *samples = malloc(2 * frames * sizeof *samples);
  CwLiveSpectrum *left = cw_live_spectrum_new(RATE_HZ, 3, 20, 20000),
                 *right = cw_live_spectrum_new(RATE_HZ, 3, 20, 20000);
  size_t band = nearest_band(left, 1000), count = cw_live_spectrum_band_count(left);
  double *level = cw_alloc_real(count);

  for (size_t i = 0; i < frames; i++) {
    samples[2 * i] = (float)(0.1 * sin(2 * G_PI * 1000 * (double)i / RATE_HZ));
    samples[2 * i + 1] = (float)sin(2 * G_PI * 1000 * (double)i / RATE_HZ);
  }
  for (size_t at = 0; at < frames; at += 2400) {
    cw_live_spectrum_push(left, samples + 2 * at, 2, 2400);
    cw_live_spectrum_push(right, samples + 2 * at + 1, 2, 2400);
    cw_live_spectrum_update(left);
    cw_live_spectrum_update(right);
  }
  cw_live_spectrum_read(left, level, NULL);
  check_below("left, dB off", fabs(level[band] + 23.0103), 0.1);
  cw_live_spectrum_read(right, level, NULL);
  check_below("right, dB off", fabs(level[band] + 3.0103), 0.1);
  cw_live_spectrum_free(left);
  cw_live_spectrum_free(right);
  cw_free(level);
  free(samples);
}

/* A halved stream: a tone comes out as it went in up to 0.28 of the new rate, and none that would fold below
 * that comes out at all; in pieces of any length. */
static void test_halver(void)
{
  double samples[CW_DECIMATOR_BLOCK], all[40000];

  for (double part = 0.02; part < 0.5; part += 0.0171) { /* of the old rate */
    CwDecimator halver;
    size_t made = 0;
    double sum = 0;
    cw_decimator_init(&halver);
    for (size_t at = 0; at < 2 * G_N_ELEMENTS(all);) {
      size_t count = (size_t)g_test_rand_int_range(1, CW_DECIMATOR_BLOCK + 1);
      count = MIN(count, 2 * G_N_ELEMENTS(all) - at);
      for (size_t i = 0; i < count; i++)
        samples[i] = sin(2 * G_PI * fmod(part * (double)(at + i), 1));
      count = (at += count, cw_decimator_run(&halver, samples, count, samples));
      for (size_t i = 0; i < count; i++)
        all[made++] = samples[i];
    }
    g_assert_cmpuint(made, ==, G_N_ELEMENTS(all));
    for (size_t i = CW_DECIMATOR_TAPS; i < made; i++)
      sum += all[i] * all[i];
    double level = 10 * log10(2 * sum / (double)(made - CW_DECIMATOR_TAPS) + 1e-30);
    if (part <= 0.14)
      check_below("passed, dB off", fabs(level), 0.01);
    if (part >= 0.36)
      check_below("folded, dB", level, -90);
  }
}

/* Each band speaks as soon as its time has passed, not before, and then truly, white noise's lowest band of
 * all included; an average begun anew holds nothing from before. */
static void test_live_settles(void)
{
  CwLiveSpectrum *live = cw_live_spectrum_new(RATE_HZ, 12, 20, 20000);
  size_t count = cw_live_spectrum_band_count(live), block = 480;
  double *level = cw_alloc_real(count), hz = cw_live_spectrum_bands(live)[0].centre_hz;
  float samples[480];

  cw_live_spectrum_set_ballistics(live, CW_BALLISTICS_AVERAGE);
  g_assert_cmpfloat(cw_live_spectrum_seconds(live, 0), <, 8 / 1.15); /* 8 over a width of 1.15 Hz */
  g_assert_cmpfloat(cw_live_spectrum_seconds(live, count - 1), <, 0.03);
  for (int round = 0; round < 2; round++) {
    double gain = round ? 0.001 : 1;
    for (size_t at = 0; at < (size_t)(8 * RATE_HZ); at += block) {
      for (size_t i = 0; i < block; i++)
        samples[i] = (float)(gain * sin(2 * G_PI * fmod(hz * (double)(at + i) / RATE_HZ, 1)));
      cw_live_spectrum_push(live, samples, 1, block);
      cw_live_spectrum_update(live);
      cw_live_spectrum_read(live, level, NULL);
      double seconds = (double)(at + block) / RATE_HZ, wanted = cw_live_spectrum_seconds(live, 0);
      if (seconds < wanted - 0.05 && at > block)
        g_assert_true(isnan(level[0]));
      if (seconds > 1.1 * wanted)
        check_below("lowest band, dB off", fabs(level[0] - (20 * log10(gain) - 3.0103)), 0.25);
    }
    cw_live_spectrum_reset(live);
  }
  cw_live_spectrum_free(live);
  cw_free(level);
}

/* A worker that comes too late loses what was said meanwhile, and no more. */
static void test_live_gap(void)
{
  size_t frames = (size_t)(5 * RATE_HZ);
  float *samples = malloc(frames * sizeof *samples);
  CwLiveSpectrum *live = cw_live_spectrum_new(RATE_HZ, 3, 100, 20000);
  size_t band = nearest_band(live, 1000), count = cw_live_spectrum_band_count(live);
  double *level = cw_alloc_real(count), *peak = cw_alloc_real(count);

  for (size_t i = 0; i < frames; i++)
    samples[i] = (float)sin(2 * G_PI * 1000 * (double)i / RATE_HZ);
  push_and_update(live, samples, 48000);
  cw_live_spectrum_push(live, samples + 1000, 1, frames - 1000); /* five seconds at once, out of step */
  cw_live_spectrum_update(live);
  push_and_update(live, samples, 48000);
  cw_live_spectrum_read(live, level, peak);
  check_below("after a gap, dB off", fabs(level[band] + 3.0103), 0.05);
  for (size_t i = 0; i < count; i++) /* no click where the two ends do not fit */
    if (fabs(log2(cw_live_spectrum_bands(live)[i].centre_hz / 1000)) > 1)
      check_below("click at the gap, dB", peak[i], -60);
  cw_live_spectrum_free(live);
  cw_free(level);
  cw_free(peak);
  free(samples);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/spectrum/welch", test_welch);
  g_test_add_func("/spectrum/welch-ends", test_welch_ends);
  g_test_add_func("/spectrum/white-in-bands", test_white_in_bands);
  g_test_add_func("/live-spectrum/sine", test_live_sine);
  g_test_add_func("/live-spectrum/pink", test_live_pink);
  g_test_add_func("/live-spectrum/falls", test_live_falls);
  g_test_add_func("/live-spectrum/stride", test_live_stride);
  g_test_add_func("/live-spectrum/halver", test_halver);
  g_test_add_func("/live-spectrum/settles", test_live_settles);
  g_test_add_func("/live-spectrum/gap", test_live_gap);
  return g_test_run();
}
