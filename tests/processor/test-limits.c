/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "processor/limits.h"
#include "vehicle/kinds/kinds.h"
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

/* Whatever is asked for, what comes back lies on a step and inside the range: rounding must not leave it. */
static void test_rounded_inside(void)
{
  CwLimits limits = coarse();
  for (double hz = 1; hz < 40000; hz *= 1.07)
    for (int steps = -2; steps <= 2; steps++) {
      double at = cw_limits_frequency_hz(&limits, hz, steps), count = log2(at / 1000) * 3;
      g_assert_cmpfloat_with_epsilon(count, rint(count), 1e-9);
      g_assert_true(at >= limits.frequency_least_hz - 1e-9 && at <= limits.frequency_most_hz + 1e-9);
    }
  for (double db = -40; db < 40; db += 0.37)
    for (int steps = -2; steps <= 2; steps++) {
      double at = cw_limits_section_gain_db(&limits, db, steps);
      g_assert_cmpfloat_with_epsilon(2 * at, rint(2 * at), 1e-9);
      g_assert_true(at >= limits.section_gain_least_db && at <= limits.section_gain_most_db);
    }
}

/* A step of a tenth gives the double that is written with one decimal, not a multiple of 0.1 with its error.
 */
static void test_decimals(void)
{
  for (int tenths = -300; tenths <= 300; tenths++) {
    g_autofree char *text = g_strdup_printf("%.1f", tenths / 10.0);
    g_assert_cmpfloat(cw_limits_on_step(tenths * 0.1 + 0.02, 0.1), ==, g_ascii_strtod(text, NULL));
  }
  g_assert_cmpfloat(cw_limits_on_step(0.7, 0.3), ==, 0.6);
  g_assert_cmpfloat(cw_limits_on_step(1.2345, 0), ==, 1.2345);
}

/* By hand there are steps that the screen can show, finer than those of no processor that has its own. */
static void test_by_hand(void)
{
  g_autoptr(CwRecord) processor = cw_record_new(cw_processor_get_type());
  CwLimits limits = cw_limits_by_hand(cw_limits_of_output(processor));

  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, -3.33, 0), ==, -3.3);
  g_assert_cmpfloat(cw_limits_frequency_by_hand_hz(&limits, 63.27), ==, 63.3);
  g_assert_cmpfloat(cw_limits_frequency_by_hand_hz(&limits, 2345.6), ==, 2346);
  cw_processor_set_frequency_steps_per_octave(processor, 3);
  cw_processor_set_gain_step_db(processor, 0.5);
  cw_processor_set_delay_step_samples(processor, 4);
  cw_processor_set_delay_ms_most(processor, 2);
  limits = cw_limits_by_hand(cw_limits_of_output(processor));
  g_assert_cmpfloat_with_epsilon(cw_limits_frequency_by_hand_hz(&limits, 1200), 1000 * exp2(1 / 3.0), 1e-9);
  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, -3.3, 0), ==, -3.5);
  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, 40, 0), ==, 6);
  g_assert_cmpfloat(cw_limits_section_gain_db(&limits, -40, 0), ==, -15);
  g_assert_cmpfloat(cw_limits_q(&limits, 100, 0), ==, 10);
  g_assert_cmpfloat(cw_limits_delay_samples(&limits, 9), ==, 8);
  g_assert_cmpfloat(cw_limits_delay_samples(&limits, 500), ==, 96);
  g_assert_cmpfloat(cw_limits_delay_samples(&limits, -3), ==, 0);
}

/* Inputs: as many filters as outputs unless said otherwise, and a delay unless it has none. */
static void test_inputs(void)
{
  g_autoptr(CwRecord) processor = cw_record_new(cw_processor_get_type());
  g_assert_cmpuint(cw_limits_of_input(processor).sections, ==, cw_limits_of_output(processor).sections);
  g_assert_cmpuint(cw_limits_of_input(NULL).sections, ==, 10);
  cw_processor_set_sections_per_input(processor, 3);
  cw_processor_set_input_delay(processor, FALSE);
  g_assert_cmpuint(cw_limits_of_input(processor).sections, ==, 3);
  g_assert_true(cw_limits_of_input(processor).no_delay);
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
  g_test_add_func("/processor/limits/rounded-inside", test_rounded_inside);
  g_test_add_func("/processor/limits/decimals", test_decimals);
  g_test_add_func("/processor/limits/by-hand", test_by_hand);
  g_test_add_func("/processor/limits/inputs", test_inputs);
  return g_test_run();
}
