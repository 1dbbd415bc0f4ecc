/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/log_grid.h"
#include "signal/memory.h"
#include "signal/random.h"
#include "signal/response/smoothing.h"

#define BINS 4097
#define BIN_HZ 5.0
#define COUNT 400

/* The mean of bins held over their own width, by adding up thin slices. */
static double naive_mean(const double *power, double low_hz, double high_hz)
{
  const int slices = 20000;
  double sum = 0;

  for (int i = 0; i < slices; i++) {
    double hz = low_hz + (high_hz - low_hz) * (i + 0.5) / slices;
    sum += power[(size_t)fmin(hz / BIN_HZ + 0.5, BINS - 1)];
  }
  return sum / slices;
}

static void fill_centres(double *centre_hz)
{
  for (size_t i = 0; i < COUNT; i++)
    centre_hz[i] = 3 * pow(20000.0 / 3, (double)i / (COUNT - 1));
}

static const double widths[] = {1, 0.5, 1.0 / 3, 1.0 / 6, 1.0 / 12, 1.0 / 24, 1.0 / 48};

/* A flat spectrum stays flat, in every width and up to both ends. */
static void test_flat(void)
{
  double *power = cw_alloc_real(BINS), centre_hz[COUNT], mean[COUNT];
  CwComplex *spectrum = cw_alloc_complex(BINS), complex_mean[COUNT];

  fill_centres(centre_hz);
  for (size_t i = 0; i < BINS; i++) {
    power[i] = 7.5;
    spectrum[i] = 2 - 3 * I;
  }
  for (size_t w = 0; w < G_N_ELEMENTS(widths); w++) {
    cw_smooth_power(power, BINS, BIN_HZ, widths[w], centre_hz, COUNT, mean);
    cw_smooth_complex(spectrum, BINS, BIN_HZ, widths[w], centre_hz, COUNT, complex_mean);
    for (size_t i = 0; i < COUNT; i++) {
      check_below("flat power", fabs(mean[i] / 7.5 - 1), 1e-11);
      check_below("flat spectrum", cabs(complex_mean[i] - (2 - 3 * I)), 1e-11);
    }
  }
  cw_free(power);
  cw_free(spectrum);
}

static void test_against_slices(void)
{
  double *power = cw_alloc_real(BINS), centre_hz[COUNT], mean[COUNT];
  CwRandom random = cw_random_new(8);

  fill_centres(centre_hz);
  for (size_t i = 0; i < BINS; i++)
    power[i] = cw_random_uniform(&random);
  for (size_t w = 0; w < G_N_ELEMENTS(widths); w++) {
    cw_smooth_power(power, BINS, BIN_HZ, widths[w], centre_hz, COUNT, mean);
    for (size_t i = 0; i < COUNT; i += 7) {
      double low_hz = centre_hz[i] * exp2(-widths[w] / 2), high_hz = centre_hz[i] * exp2(widths[w] / 2);
      if (high_hz - low_hz < BIN_HZ || low_hz < 0.5 * BIN_HZ || high_hz > (BINS - 1) * BIN_HZ)
        continue;
      check_below("mean against slices", fabs(mean[i] - naive_mean(power, low_hz, high_hz)), 2e-3);
    }
  }
  cw_free(power);
}

/* A window narrower than a bin interpolates: on a straight line it gives the line. */
static void test_narrow(void)
{
  double power[BINS], centre_hz[COUNT], mean[COUNT];

  for (size_t i = 0; i < BINS; i++)
    power[i] = 1 + 0.25 * (double)i;
  for (size_t i = 0; i < COUNT; i++)
    centre_hz[i] = 10 + 0.37 * (double)i;
  cw_smooth_power(power, BINS, BIN_HZ, 1.0 / 48, centre_hz, COUNT, mean);
  for (size_t i = 0; i < COUNT; i++)
    check_below("straight line",
                fabs(mean[i] - 1 - 0.25 * centre_hz[i] / BIN_HZ * 0.5 * (exp2(1.0 / 96) + exp2(-1.0 / 96))),
                1e-9);
}

/* Powers are averaged, not levels (sum.power_avg): a window over exactly three bins of 80, 83 and 86 dB. */
static void test_power_average(void)
{
  const char *id = "sum.power_avg";
  const double low_hz = 99.5, high_hz = 102.5,
               centre_hz = sqrt(low_hz * high_hz); /* bins of 1 Hz: 100, 101, 102 */
  double power[200], mean;

  for (size_t i = 0; i < G_N_ELEMENTS(power); i++)
    power[i] = pow(10, (80 + 3 * ((double)i - 100)) / 10);
  cw_smooth_power(power, G_N_ELEMENTS(power), 1, log2(high_hz / low_hz), &centre_hz, 1, &mean);
  check_near(id, 10 * log10(mean), check_number(id, "power_average"), check_tolerance(id, "abs"));
}

static void test_grid(void)
{
  double hz[481], value[481];
  size_t count = cw_log_grid_count(20, 20000, 48);

  g_assert_cmpuint(cw_log_grid_count(20, 20480, 48), ==, 481);
  g_assert_cmpuint(cw_log_grid_count(20, 20, 48), ==, 1);
  g_assert_cmpuint(cw_log_grid_count(20, 19, 48), ==, 0);
  g_assert_cmpuint(count, ==, 479);
  cw_log_grid_fill(20, 48, count, hz);
  check_below("last point", hz[count - 1], 20000);
  check_below("last point", 20000, cw_log_grid_hz(20, 48, count));
  for (size_t i = 0; i < count; i++) {
    check_below("grid", fabs(log2(hz[i] / 20) * 48 - (double)i), 1e-9);
    value[i] = 3 - 2 * log(hz[i]);
  }
  for (double at = 20; at < hz[count - 1]; at *= 1.0137)
    check_below("straight line over log frequency",
                fabs(cw_log_grid_interpolate(hz, value, count, at) - (3 - 2 * log(at))), 1e-10);
  g_assert_cmpfloat(cw_log_grid_interpolate(hz, value, count, 1), ==, value[0]);
  g_assert_cmpfloat(cw_log_grid_interpolate(hz, value, count, 96000), ==, value[count - 1]);
  g_assert_cmpfloat(cw_log_grid_interpolate(hz, value, 1, 500), ==, value[0]);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/smoothing/flat", test_flat);
  g_test_add_func("/smoothing/against-slices", test_against_slices);
  g_test_add_func("/smoothing/narrow", test_narrow);
  g_test_add_func("/smoothing/power-average", test_power_average);
  g_test_add_func("/grid", test_grid);
  return g_test_run();
}
