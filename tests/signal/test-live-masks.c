/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bands of the live spectrum against the masks of IEC 61260-1:2014, class 1, by tones, each seen by all
 * bands that have had the time to settle. */
#include "band-mask.h"
#include "check-values.h"
#include "signal/live/live_spectrum.h"
#include "signal/memory.h"

#define BLOCK 960

typedef struct {
  double rate_hz;
  int fraction;
  CwLiveSpectrum *live;
  size_t count;
  const CwBand *bands;
  double *level;
  guint *judged;  /* a band */
  double nearest; /* dB between the mask and what came nearest to it; below 0 is outside */
} Bench;

static const MaskPoint *mask(void)
{
  static MaskPoint points[10];
  if (points[1].exponent == 0)
    mask_read(points);
  return points;
}

static void bench_begin(Bench *bench, double rate_hz, int fraction)
{
  *bench = (Bench){.rate_hz = rate_hz, .fraction = fraction, .nearest = INFINITY};
  bench->live = cw_live_spectrum_new(rate_hz, fraction, 20, 20000);
  bench->count = cw_live_spectrum_band_count(bench->live);
  bench->bands = cw_live_spectrum_bands(bench->live);
  bench->level = cw_alloc_real(bench->count);
  bench->judged = g_new0(guint, bench->count);
  cw_live_spectrum_set_ballistics(bench->live, CW_BALLISTICS_AVERAGE);
}

static void bench_end(Bench *bench)
{
  g_test_message("1/%d octave at %g Hz: %.3f dB inside the mask at the nearest", bench->fraction,
                 bench->rate_hz, bench->nearest);
  for (size_t i = 0; i < bench->count; i++)
    g_assert_cmpuint(bench->judged[i], >, 0);
  cw_live_spectrum_free(bench->live);
  cw_free(bench->level);
  g_free(bench->judged);
}

/* A full-scale tone until the bands from lowest_hz on hold nothing else. */
static void play(Bench *bench, double hz, double lowest_hz)
{
  size_t lowest = 0, frames;
  float samples[BLOCK];

  while (lowest + 1 < bench->count && bench->bands[lowest].centre_hz < lowest_hz)
    lowest++;
  frames = (size_t)((1.1 * cw_live_spectrum_seconds(bench->live, lowest) + 0.05) * bench->rate_hz);
  cw_live_spectrum_reset(bench->live);
  for (size_t at = 0; at < frames; at += BLOCK) {
    for (size_t i = 0; i < BLOCK; i++)
      samples[i] = (float)sin(2 * G_PI * fmod(hz * (double)(at + i) / bench->rate_hz, 1));
    cw_live_spectrum_push(bench->live, samples, 1, BLOCK);
    cw_live_spectrum_update(bench->live);
  }
  cw_live_spectrum_read(bench->live, bench->level, NULL);
}

static void judge(Bench *bench, double hz)
{
  for (size_t i = 0; i < bench->count; i++) {
    double ratio = fmax(hz / bench->bands[i].centre_hz, bench->bands[i].centre_hz / hz), least, most;
    if (isnan(bench->level[i]) || fabs(log(ratio / mask_breakpoint(0.5, bench->fraction))) < 1e-6)
      continue; /* not settled; at the edge itself the mask is a step */
    mask_at(mask(), bench->fraction, ratio, &least, &most);
    double attenuation = -3.0103 - bench->level[i];
    if (attenuation < least || attenuation > most)
      g_error("1/%d octave at %g Hz: %.3f dB at %g Hz lies outside %.2f to %.2f", bench->fraction,
              bench->bands[i].centre_hz, attenuation, hz, least, most);
    bench->nearest = fmin(bench->nearest, fmin(attenuation - least, most - attenuation));
    bench->judged[i]++;
  }
}

/* Tones all the way up, so many to a band's width, at odd places in it; judged by the bands from an octave
 * below on, and every so often by all. */
static void check_ladder(double rate_hz, int fraction, int tones_a_band)
{
  Bench bench;
  double step = pow(CW_OCTAVE_RATIO, 1 / (fraction * (tones_a_band + 0.13)));
  guint number = 0;

  bench_begin(&bench, rate_hz, fraction);
  for (double hz = 8 * (1 + 0.01 * g_test_rand_double()); hz < 0.499 * rate_hz; hz *= step, number++) {
    play(&bench, hz, number % 29 ? hz / 2 : 20);
    judge(&bench, hz);
  }
  bench_end(&bench);
}

static void test_ladders(void)
{
  static const struct {
    double rate_hz;
    int fraction;
  } ladders[] = {{48000, 1}, {48000, 2}, {48000, 3}, {48000, 6}, {48000, 12}, {48000, 24}, {44100, 3}, {44100, 12}, {96000, 3}};

  for (size_t k = 0; k < G_N_ELEMENTS(ladders); k++)
    check_ladder(ladders[k].rate_hz, ladders[k].fraction, ladders[k].fraction < 12 ? 6 : 3);
}

/* Every fraction, at rates in turn: tones at random, judged by all bands. */
static void test_other_fractions(void)
{
  for (int fraction = 1; fraction <= 24; fraction++) {
    Bench bench;
    bench_begin(&bench, (double[]){44100, 48000, 96000}[fraction % 3], fraction);
    for (int tone = 0; tone < 5; tone++) {
      double hz = 15 * pow(1600, g_test_rand_double());
      play(&bench, hz, 20);
      judge(&bench, hz);
    }
    bench_end(&bench);
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/live-masks/ladders", test_ladders);
  g_test_add_func("/live-masks/other-fractions", test_other_fractions);
  return g_test_run();
}
