/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is worked out from an impulse response, against responses of which it is known by definition. */
#include "../signal/signals.h"
#include "measuring/response_curves.h"
#include "signal/log_grid.h"

#define RATE_HZ 48000.0
#define FRAMES 24000

static CwKeptImpulse kept(const float *samples, double start_seconds, double arrival_seconds)
{
  return (CwKeptImpulse){samples, FRAMES, RATE_HZ, start_seconds, arrival_seconds};
}

/* A direct sound and an echo: the whole has its comb, the window before the echo is flat and without phase.
 */
static void test_window(void)
{
  float *samples = g_new0(float, FRAMES);
  size_t length;

  samples[480] = 0.5f;
  samples[480 + 288] = 0.25f;
  CwKeptImpulse impulse = kept(samples, -2e-3, 8e-3); /* sample 480 is 8 ms after the reference */
  CwComplex *all = cw_kept_impulse_spectrum(&impulse, 0, &length),
            *early = cw_kept_impulse_spectrum(&impulse, 5e-3, &length);
  for (size_t i = 0; i <= length / 2; i++) {
    double w = 2 * G_PI * (double)i / (double)length;
    g_assert_cmpfloat(cabs(early[i] - 0.5), <, 1e-6);
    g_assert_cmpfloat(cabs(all[i] - (0.5 + 0.25 * (cos(288 * w) - I * sin(288 * w)))), <, 1e-6);
  }
  cw_free(all);
  cw_free(early);
  g_free(samples);
}

/* A first-order low-pass, e^(-t / tau): group delay tau / (1 + (w tau)^2). */
static void test_group_delay(void)
{
  float *samples = g_new0(float, FRAMES);
  double tau = 2e-3, hz[60], seconds[60];
  size_t length, count = cw_log_grid_count(20, 600, 12);

  for (int i = 0; i < FRAMES - 480; i++)
    samples[480 + i] =
        (float)((i ? 1 : 0.5) *
                exp(-i / RATE_HZ / tau)); /* half at the jump: the sampled integral's trapezoid */
  CwKeptImpulse impulse = kept(samples, 0, 0.01);
  CwComplex *spectrum = cw_kept_impulse_spectrum(&impulse, 0, &length);
  cw_log_grid_fill(20, 12, count, hz);
  cw_spectrum_group_delay(spectrum, length, RATE_HZ, 24, hz, count, seconds);
  for (size_t i = 0; i < count; i++) {
    double x = 2 * G_PI * hz[i] * tau;
    g_assert_cmpfloat(fabs(seconds[i] - tau / (1 + x * x)), <, 0.01 * tau);
  }
  cw_free(spectrum);
  g_free(samples);
}

/* Noise that dies away by 60 dB in a given time: within 12 % in every octave (its own spread over a band's
 * few samples), 5 % on the mean. */
static void test_decay(void)
{
  for (double expected = 0.06; expected < 0.4; expected *= 1.6) {
    float *samples = g_new0(float, FRAMES);
    CwRandom random = cw_random_new((uint64_t)(1e4 * expected));
    CwBand bands[8];
    size_t count = cw_bands_within(1, 900, 17000, bands, 8);
    double sum = 0;
    for (int i = 0; i < FRAMES - 960; i++)
      samples[960 + i] = (float)(cw_random_normal(&random) * pow(10, -3 * i / RATE_HZ / expected) +
                                 1e-5 * cw_random_normal(&random));
    CwKeptImpulse impulse = kept(samples, 0, 0.02);
    for (size_t i = 0; i < count; i++) {
      double seconds = cw_kept_impulse_decay_seconds(&impulse, &bands[i]);
      g_assert_cmpfloat(fabs(seconds / expected - 1), <, 0.15);
      sum += seconds / (double)count;
    }
    g_test_message("%.3f s: %.3f s on the mean", expected, sum);
    g_assert_cmpfloat(fabs(sum / expected - 1), <, 0.07);
    g_free(samples);
  }
}

/* Where noise is too near, nothing is said. */
static void test_no_decay(void)
{
  float *samples = g_new0(float, FRAMES);
  CwRandom random = cw_random_new(3);
  CwBand band = cw_band(1, 0);

  for (int i = 0; i < FRAMES; i++)
    samples[i] = (float)(cw_random_normal(&random) * (i < 960 ? 0 : pow(10, -3 * (i - 960) / RATE_HZ / 0.1)) +
                         0.05 * cw_random_normal(&random));
  CwKeptImpulse impulse = kept(samples, 0, 0.02);
  g_assert_true(isnan(cw_kept_impulse_decay_seconds(&impulse, &band)));
  g_free(samples);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/measuring/derive/window", test_window);
  g_test_add_func("/measuring/derive/group-delay", test_group_delay);
  g_test_add_func("/measuring/derive/decay", test_decay);
  g_test_add_func("/measuring/derive/no-decay", test_no_decay);
  return g_test_run();
}
