/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The live spectrum in a second: levels, time weightings, the highest, what is not yet known. 'signal live-masks'
 * holds every band against the standard's masks. */
#include "check-values.h"
#include "signal/live/live_spectrum.h"
#include "signal/memory.h"

#include <math.h>

#define RATE_HZ 48000.0
#define BLOCK 480

/* Seconds of a tone, every second channel of an interleaved stream. */
static void play(CwLiveSpectrum *live, double hz, double gain, double seconds)
{
  float samples[2 * BLOCK] = {0};
  static size_t at;
  for (size_t block = 0; block < (size_t)(seconds * RATE_HZ / BLOCK); block++) {
    for (size_t i = 0; i < BLOCK; i++, at++)
      samples[2 * i] = (float)(gain * sin(2 * G_PI * fmod(hz * (double)at / RATE_HZ, 1)));
    cw_live_spectrum_push(live, samples, 2, BLOCK);
    cw_live_spectrum_update(live);
  }
}

static size_t band_at(const CwLiveSpectrum *live, double hz)
{
  const CwBand *bands = cw_live_spectrum_bands(live);
  size_t i = 0;
  while (i < cw_live_spectrum_band_count(live) && !(bands[i].low_hz <= hz && hz < bands[i].high_hz))
    i++;
  g_assert_cmpuint(i, <, cw_live_spectrum_band_count(live));
  return i;
}

/* A tone at a band's centre reads as its mean square in that band, to the 0.4 dB of IEC 61260-1 class 1
 * (mask.2014, pass band), and 40.5 dB and more below it two octaves away. */
static void test_levels(void)
{
  CwLiveSpectrum *live = cw_live_spectrum_new(RATE_HZ, 3, 100, 16000);
  double *level = cw_alloc_real(cw_live_spectrum_band_count(live)), tone_db = 20 * log10(0.1 * M_SQRT1_2);
  static const double tones_hz[] = {125.892541179, 1000, 7943.28234724};
  for (size_t t = 0; t < G_N_ELEMENTS(tones_hz); t++) {
    cw_live_spectrum_set_ballistics(live, CW_BALLISTICS_AVERAGE);
    cw_live_spectrum_reset(live);
    play(live, tones_hz[t], 0.1, 1.2 * cw_live_spectrum_seconds(live, band_at(live, 100)) + 0.1);
    g_assert_true(cw_live_spectrum_read(live, level, NULL));
    g_assert_false(cw_live_spectrum_read(live, level, NULL)); /* nothing newer */
    check_near("mask.2014", level[band_at(live, tones_hz[t])], tone_db, 0.4);
    for (int octaves = -2; octaves <= 2; octaves += 4)
      if (tones_hz[t] * exp2(octaves) > 100 && tones_hz[t] * exp2(octaves) < 16000)
        g_assert_cmpfloat(level[band_at(live, tones_hz[t] * exp2(octaves))], <, tone_db - 40.5);
  }
  cw_live_spectrum_free(live);
  cw_free(level);
}

/* Fast and slow: after a tone ends they fall by 34.7 and 4.34 dB a second (IEC 61672-1, 5.8), once the window
 * holds it no longer; the highest stays until it is forgotten. */
static void test_weightings(void)
{
  static const struct {
    CwBallistics ballistics;
    double constant_seconds;
  } cases[] = {{CW_BALLISTICS_FAST, 0.125}, {CW_BALLISTICS_SLOW, 1}};
  for (size_t k = 0; k < G_N_ELEMENTS(cases); k++) {
    CwLiveSpectrum *live = cw_live_spectrum_new(RATE_HZ, 3, 500, 2000);
    size_t count = cw_live_spectrum_band_count(live), band = band_at(live, 1000);
    double *first = cw_alloc_real(count), *later = cw_alloc_real(count), *peak = cw_alloc_real(count);
    cw_live_spectrum_set_ballistics(live, cases[k].ballistics);
    play(live, 1000, 0.1, 8 * cases[k].constant_seconds);
    cw_live_spectrum_read(live, first, peak);
    double highest = peak[band];
    g_assert_cmpfloat_with_epsilon(first[band], highest, 0.1);
    play(live, 1000, 0, 2 * cw_live_spectrum_seconds(live, band));
    cw_live_spectrum_read(live, first, NULL);
    play(live, 1000, 0, 0.5);
    cw_live_spectrum_read(live, later, peak);
    double fall_db = 0.5 * 10 / M_LN10 / cases[k].constant_seconds;
    g_assert_cmpfloat_with_epsilon((first[band] - later[band]) / fall_db, 1, 0.01);
    g_assert_cmpfloat_with_epsilon(peak[band], highest, 1e-9);
    cw_live_spectrum_forget_highest(live);
    play(live, 1000, 0, 0.1);
    cw_live_spectrum_read(live, later, peak);
    g_assert_cmpfloat(peak[band], <, highest - 0.3);
    cw_live_spectrum_free(live);
    cw_free(first);
    cw_free(later);
    cw_free(peak);
  }
}

/* Until a band's window has filled nothing is known of it, and after a reset neither. */
static void test_not_yet(void)
{
  CwLiveSpectrum *live = cw_live_spectrum_new(RATE_HZ, 12, 20, 20000);
  size_t count = cw_live_spectrum_band_count(live);
  double *level = cw_alloc_real(count);
  cw_live_spectrum_read(live, level, NULL);
  for (size_t i = 0; i < count; i++)
    g_assert_true(isnan(level[i]));
  play(live, 1000, 0.1, 0.5);
  cw_live_spectrum_read(live, level, NULL);
  for (size_t i = 0; i < count; i++)
    if (cw_live_spectrum_seconds(live, i) > 0.5)
      g_assert_true(isnan(level[i]));
    else if (cw_live_spectrum_seconds(live, i) < 0.4)
      g_assert_false(isnan(level[i]));
  cw_live_spectrum_reset(live);
  play(live, 1000, 0.1, 0.01);
  cw_live_spectrum_read(live, level, NULL);
  g_assert_true(isnan(level[0]));
  cw_live_spectrum_free(live);
  cw_free(level);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/live-spectrum/levels", test_levels);
  g_test_add_func("/live-spectrum/weightings", test_weightings);
  g_test_add_func("/live-spectrum/not-yet", test_not_yet);
  return g_test_run();
}
