/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arrivals where the spectrum says little: what must be true of any. */
#include "signal/response/arrival.h"
#include "signals.h"

#define RATE_HZ 48000.0
#define LENGTH 32768

/* A subwoofer's few bins of random phase and some lone ones far above that noise let through: the arrival
 * stays within the transform, whose delays run from minus to plus half its length. */
static void test_lone_bins(void)
{
  size_t bins = LENGTH / 2 + 1;

  for (uint64_t seed = 1; seed <= 40; seed++) {
    CwRandom random = cw_random_new(seed);
    CwComplex *spectrum = cw_alloc_complex(bins);
    double *usable = cw_alloc_real(bins), bin_hz = RATE_HZ / LENGTH;
    for (size_t i = 1; i < bins; i++) {
      double turn = 2 * G_PI * cw_random_normal(&random);
      spectrum[i] = cos(turn) + I * sin(turn);
      usable[i] = (double)i * bin_hz > 25 && (double)i * bin_hz < 110;
    }
    for (int lone = 0; lone < 3; lone++)
      usable[(size_t)((3000 + 400 * lone) / bin_hz) + seed] = 1;
    CwArrival arrival = cw_arrival_find(spectrum, LENGTH, RATE_HZ, 20, 20000, usable, 30);
    g_assert_cmpfloat(fabs(arrival.seconds), <=, LENGTH / 2 / RATE_HZ);
    cw_free(spectrum);
    cw_free(usable);
  }
}

/* A band-limited pulse at a known place, by its analytic delay. */
static void test_pulse(void)
{
  size_t bins = LENGTH / 2 + 1;

  for (int k = -3; k <= 3; k++) {
    CwComplex *spectrum = cw_alloc_complex(bins);
    double seconds = k * 2.345e-3;
    for (size_t i = 1; i < bins; i++) {
      double turn = 2 * G_PI * (double)i * RATE_HZ / LENGTH * seconds;
      spectrum[i] = cos(turn) - I * sin(turn);
    }
    CwArrival arrival = cw_arrival_find(spectrum, LENGTH, RATE_HZ, 100, 18000, NULL, 30);
    g_assert_cmpfloat(fabs(arrival.seconds - seconds), <, 5e-6);
    g_assert_cmpfloat(arrival.polarity, ==, 1);
    cw_free(spectrum);
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/signal/arrival/lone-bins", test_lone_bins);
  g_test_add_func("/signal/arrival/pulse", test_pulse);
  return g_test_run();
}
