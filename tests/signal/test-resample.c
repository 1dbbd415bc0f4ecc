/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/memory.h"
#include "signal/resample.h"

/* Worst deviation of a resampled sine from the sine rendered at the new rate, dB re its amplitude, away from
 * the ends. */
static double sine_error_db(double hz, double rate_hz, double ratio)
{
  size_t frames = (size_t)(2 * rate_hz), count = cw_resample_frames(frames, ratio),
         margin = (size_t)(0.05 * rate_hz * ratio);
  double *in = cw_alloc_real(frames), *out = cw_alloc_real(count), worst = 0;

  for (size_t i = 0; i < frames; i++)
    in[i] = sin(2 * G_PI * hz * (double)i / rate_hz);
  g_assert_cmpuint(cw_resample(in, frames, ratio, out), ==, count);
  for (size_t i = margin; i < count - margin; i++)
    worst = fmax(worst, fabs(out[i] - sin(2 * G_PI * hz * (double)i / ratio / rate_hz)));
  cw_free(in);
  cw_free(out);
  return 20 * log10(worst + 1e-30);
}

static void test_sines(void)
{
  static const double ratios[] = {
      1 + 1e-6, 1 + 5e-5, 1 - 1.5e-4, 1 + 1.5e-4, 44100.0 / 48000, 48000.0 / 44100 * 1.00002, 2, 0.5};
  static const double frequencies_hz[] = {20, 1000, 9000, 18000, 20000};
  double worst = -INFINITY;

  for (size_t r = 0; r < G_N_ELEMENTS(ratios); r++)
    for (size_t f = 0; f < G_N_ELEMENTS(frequencies_hz); f++) {
      if (frequencies_hz[f] > 0.5 * 0.91 * 48000 * fmin(1, ratios[r]))
        continue;
      double error_db = sine_error_db(frequencies_hz[f], 48000, ratios[r]);
      worst = fmax(worst, error_db);
      if (error_db > -150)
        g_error("%g Hz at ratio %.8f: error %.1f dB", frequencies_hz[f], ratios[r], error_db);
    }
  g_test_message("worst error %.1f dB", worst);
}

/* What lies above the new half rate must vanish, not fold. */
static void test_aliases(void)
{
  size_t frames = 96000, count = cw_resample_frames(frames, 0.5);
  double *in = cw_alloc_real(frames), *out = cw_alloc_real(count);

  for (double hz = 25000; hz < 47000; hz += 3700) {
    double worst = 0;
    for (size_t i = 0; i < frames; i++)
      in[i] = sin(2 * G_PI * hz * (double)i / 96000);
    cw_resample(in, frames, 0.5, out);
    for (size_t i = 2400; i < count - 2400; i++)
      worst = fmax(worst, fabs(out[i]));
    check_below("alias, dB", 20 * log10(worst + 1e-30), -150);
  }
  cw_free(in);
  cw_free(out);
}

/* An impulse stays at its time, and drift.offset: 100 ppm over 20 s are 96 samples of 48 kHz. */
static void test_time(void)
{
  size_t frames = 20 * 48000 + 1000;
  double ratio = 1 + 100e-6, *in = cw_alloc_real(frames),
         *out = cw_alloc_real(cw_resample_frames(frames, ratio));
  size_t row = check_rows("drift.offset") - 1, at = 20 * 48000, best = 0;

  g_assert_cmpfloat(check_cell("drift.offset", row, "ppm"), ==, 100);
  g_assert_cmpfloat(check_cell("drift.offset", row, "T"), ==, 20);
  in[at] = 1;
  cw_resample(in, frames, ratio, out);
  for (size_t i = 0; i < cw_resample_frames(frames, ratio); i++)
    if (out[i] > out[best])
      best = i;
  check_near("drift.offset", (double)best - (double)at, check_cell("drift.offset", row, "samples"), 0);
  cw_free(in);
  cw_free(out);
}

static void test_limits(void)
{
  double in[3] = {1, 2, 3}, out[300];

  g_assert_cmpuint(cw_resample(in, 3, 1000, out), ==, 0);
  g_assert_cmpuint(cw_resample(in, 3, NAN, out), ==, 0);
  g_assert_cmpuint(cw_resample(in, 0, 1, out), ==, 0);
  g_assert_cmpuint(cw_resample(in, 3, 2, out), ==, 5);
  g_assert_cmpuint(cw_resample(in, 1, 1.5, out), ==, 1);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/resample/sines", test_sines);
  g_test_add_func("/resample/aliases", test_aliases);
  g_test_add_func("/resample/time", test_time);
  g_test_add_func("/resample/limits", test_limits);
  return g_test_run();
}
