/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/stimulus/marker.h"
#include "signals.h"
#include <string.h>

#define RATE_HZ 48000.0

static const CwMarker marker = {
    .low_hz = 800, .high_hz = 16000, .seconds = 0.1, .level = 0.25, .fade_part = CW_MARKER_FADE_PART};

static double burst_rms(void)
{
  size_t frames = cw_marker_frames(&marker, RATE_HZ);
  double *burst = cw_alloc_real(frames), sum = 0;

  cw_marker_render(&marker, RATE_HZ, burst);
  for (size_t i = 0; i < frames; i++)
    sum += burst[i] * burst[i];
  cw_free(burst);
  return sqrt(sum / (double)frames);
}

/* Adds a burst at any time, in recorder's seconds; the player's clock is ppm fast. */
static void add_burst(double *recording, size_t frames, double at_seconds, double gain, double ppm)
{
  double rate_hz = RATE_HZ / (1 + ppm * 1e-6), at = at_seconds * RATE_HZ;
  size_t own = cw_marker_frames(&marker, rate_hz), count = cw_fft_good_length(own + 512),
         first = (size_t)at - 100;
  double *burst = cw_alloc_real(count);

  cw_marker_render(&marker, rate_hz, burst);
  delay_by(burst, count, at - (double)first);
  for (size_t i = 0; i < count && first + i < frames; i++)
    recording[first + i] += gain * burst[i];
  cw_free(burst);
}

/* 0.05 sample at an SNR of 20 dB (burst over noise, both full band), at many places between samples, in
 * either polarity. */
static void test_time(void)
{
  size_t frames = 24000;
  double rms = burst_rms(), squares = 0, worst = 0;
  const int rounds = 200;

  for (int round = 0; round < rounds; round++) {
    double *recording = cw_alloc_real(frames), at = g_test_rand_double_range(0.05, 0.35),
           gain = round % 2 ? 1 : -1;
    CwMarkerHit hit;
    add_burst(recording, frames, at, gain, 0);
    add_noise(recording, frames, rms / 10, (uint64_t)g_test_rand_int());
    g_assert_cmpuint(cw_marker_find(&marker, RATE_HZ, recording, frames, 0.2, 12, &hit, 1), ==, 1);
    double off = (hit.at_seconds - at) * RATE_HZ;
    squares += off * off;
    worst = fmax(worst, fabs(off));
    g_assert_cmpfloat(hit.sign, ==, gain);
    cw_free(recording);
  }
  g_test_message("time off by %.4f sample rms, %.4f at worst", sqrt(squares / rounds), worst);
  check_below("time, samples off", worst, 0.05);
}

/* Two bursts come back in order of time with the weaker first; noise alone brings none. */
static void test_find(void)
{
  size_t frames = 96000;
  double *recording = cw_alloc_real(frames);
  CwMarkerHit hits[4];

  add_noise(recording, frames, 0.01, 3);
  g_assert_cmpuint(cw_marker_find(&marker, RATE_HZ, recording, frames, 0.2, 15, hits, 4), ==, 0);
  add_burst(recording, frames, 0.2, 0.5, 0);
  add_burst(recording, frames, 1.5, 1, 0);
  g_assert_cmpuint(cw_marker_find(&marker, RATE_HZ, recording, frames, 0.2, 20, hits, 4), ==, 2);
  check_below("first burst, samples off", fabs(hits[0].at_seconds - 0.2) * RATE_HZ, 0.05);
  check_below("second burst, samples off", fabs(hits[1].at_seconds - 1.5) * RATE_HZ, 0.05);
  check_below("levels apart, dB off", fabs(hits[1].snr_db - hits[0].snr_db - 6.02), 0.5);
  g_assert_cmpuint(cw_marker_find(&marker, RATE_HZ, recording, frames, 0.2, 20, hits, 1), ==, 1);
  check_below("the strongest, samples off", fabs(hits[0].at_seconds - 1.5) * RATE_HZ, 0.05);
  memset(recording, 0, frames * sizeof *recording);
  g_assert_cmpuint(cw_marker_find(&marker, RATE_HZ, recording, frames, 0.2, 15, hits, 4), ==, 0);
  cw_free(recording);
}

static double measured_ppm(double apart_seconds, double ppm, double noise_rms, const CwCoefficients *cascade,
                           size_t sections)
{
  double true_apart = apart_seconds / (1 + ppm * 1e-6), first = g_test_rand_double_range(0.3, 0.31), interval;
  size_t frames = (size_t)((first + true_apart + 0.6) * RATE_HZ);
  double *recording = cw_alloc_real(frames);
  CwMarkerHit hits[2];

  add_burst(recording, frames, first, 1, ppm);
  add_burst(recording, frames, first + true_apart, 1, ppm);
  cw_cascade_run(cascade, sections, recording, frames);
  add_noise(recording, frames, noise_rms, (uint64_t)g_test_rand_int());
  g_assert_cmpuint(cw_marker_find(&marker, RATE_HZ, recording, frames, 1, 10, hits, 2), ==, 2);
  interval =
      cw_marker_interval(&marker, RATE_HZ, recording, frames, hits[0].at_seconds, hits[1].at_seconds, 0.3);
  cw_free(recording);
  return (apart_seconds / interval - 1) * 1e6;
}

/* 0.5 ppm over 20 s at an SNR of 20 dB, through a speaker and cabin of random sections, for clocks up to 150
 * ppm off. */
static void test_interval(void)
{
  double rms = burst_rms(), worst = 0, squares = 0;
  const int rounds = 12;

  for (int round = 0; round < rounds; round++) {
    CwCoefficients cascade[4];
    double ppm = g_test_rand_double_range(-150, 150);
    random_cascade(cascade, 4, RATE_HZ);
    double off = fabs(measured_ppm(20, ppm, rms / 10, cascade, 4) - ppm);
    worst = fmax(worst, off);
    squares += off * off;
  }
  g_test_message("clock off by %.4f ppm at worst", worst);
  check_below("clock, ppm off at worst", worst, 0.5);
  /* The survey, which has more bursts to go by, needs this of one pair on the average. */
  check_below("clock, ppm off, root mean square", sqrt(squares / rounds), 0.05);
}

/* drift.mean: two equal stimuli 12 s apart, found 12.000300 s apart. */
static void test_drift_mean(void)
{
  CwCoefficients pass = {{1, 0, 0}, {1, 0, 0}};
  double wanted = check_number("drift.mean", NULL), ppm = measured_ppm(12, -wanted, 0, &pass, 1);

  check_near("drift.mean", -ppm, wanted, 0.005);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/marker/time", test_time);
  g_test_add_func("/marker/find", test_find);
  g_test_add_func("/marker/interval", test_interval);
  g_test_add_func("/marker/drift-mean", test_drift_mean);
  return g_test_run();
}
