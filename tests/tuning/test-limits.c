/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "processor/limits.h"
#include <glib.h>
#include <math.h>

static CwLimits coarse(void)
{
  CwLimits limits = cw_limits_wide(48000);
  limits.frequency_steps_per_octave = 3;
  limits.gain_step_db = 0.5;
  limits.section_gain_least_db = -12.2;
  limits.q_step = 0.25;
  limits.delay_step_seconds = 1.0 / 48000;
  limits.delay_most_seconds = 0.01;
  return limits;
}

static void test_any_value(void)
{
  CwLimits limits = cw_limits_wide(48000);
  g_assert_cmpfloat(cw_limits_frequency_hz(&limits, 1234.5, 0), ==, 1234.5);
  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, -3.21, 1), ==, -3.21);
  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, 9, 0), ==, 6);
  g_assert_cmpfloat(cw_limits_q(&limits, 0.1, 0), ==, 0.4);
  g_assert_cmpfloat(cw_limits_delay_seconds(&limits, 2), ==, 1);
}

static void test_grid(void)
{
  CwLimits limits = coarse();
  g_assert_cmpfloat_with_epsilon(cw_limits_frequency_hz(&limits, 1100, 0), 1000, 1e-9);
  g_assert_cmpfloat_with_epsilon(cw_limits_frequency_hz(&limits, 1100, 1), 1000 * exp2(1.0 / 3), 1e-9);
  g_assert_cmpfloat_with_epsilon(cw_limits_frequency_above_hz(&limits, 1001), 1000 * exp2(1.0 / 3), 1e-9);
  g_assert_cmpfloat_with_epsilon(cw_limits_frequency_above_hz(&limits, 1000), 1000, 1e-6);
  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, -3.3, 0), ==, -3.5);
  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, -3.3, -1), ==, -4);
  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, -40, 0), ==, -12); /* -12.5 is beyond the range */
  g_assert_cmpfloat(cw_limits_q(&limits, 0.38, 0), ==, 0.5);
  g_assert_cmpfloat_with_epsilon(cw_limits_delay_seconds(&limits, 1e-3 + 3e-6), 48.0 / 48000, 1e-12);
  g_assert_cmpfloat_with_epsilon(cw_limits_delay_seconds(&limits, 0.5), 0.01, 1e-12);
}

static void test_crossovers(void)
{
  CwLimits limits = cw_limits_wide(48000);
  CwFilterFamily family;
  int order;

  cw_limits_crossover(&limits, 4, &family, &order);
  g_assert_true(family == CW_FILTER_LINKWITZ_RILEY && order == 4);
  limits.crossover_order_most = 3;
  cw_limits_crossover(&limits, 4, &family, &order);
  g_assert_true(family == CW_FILTER_LINKWITZ_RILEY && order == 2);
  limits.family[CW_FILTER_LINKWITZ_RILEY] = false;
  cw_limits_crossover(&limits, 4, &family, &order);
  g_assert_true(family == CW_FILTER_BUTTERWORTH && order == 3);
  for (int f = 0; f < CW_FILTER_FAMILIES; f++)
    limits.family[f] = false;
  cw_limits_crossover(&limits, 4, &family, &order);
  g_assert_cmpint(order, ==, 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/limits/any-value", test_any_value);
  g_test_add_func("/limits/grid", test_grid);
  g_test_add_func("/limits/crossovers", test_crossovers);
  return g_test_run();
}
