/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "electrics/exposure.h"

/* NIOSH 98-126, OSHA 29 CFR 1910.95, WHO-ITU H.870. */
static void test_times(void)
{
  double tolerance = check_tolerance("noise.times", "rel");
  for (size_t i = 0; i < check_rows("noise.times"); i++) {
    double level = check_cell("noise.times", i, "dBA");
    check_near_relative("noise.times", cw_niosh_hours_a_day(level), check_cell("noise.times", i, "NIOSH h"),
                        tolerance);
    check_near_relative("noise.times", cw_osha_hours_a_day(level), check_cell("noise.times", i, "OSHA h"),
                        tolerance);
    check_near_relative("noise.times", cw_who_hours_a_week(level),
                        check_cell("noise.times", i, "WHO-ITU h/week"), tolerance);
  }
}

/* OSHA's own table rounds the formula. */
static void test_table(void)
{
  static const int levels[] = {90, 92, 95, 97, 100, 102, 105, 110, 115};
  for (size_t i = 0; i < G_N_ELEMENTS(levels); i++) {
    g_autofree char *key = g_strdup_printf("%d", levels[i]);
    check_near_relative("noise.osha_table", cw_osha_hours_a_day(levels[i]),
                        check_number("noise.osha_table", key), 0.011);
  }
}

/* D = 100 sum C/T. */
static void test_dose(void)
{
  const double levels[] = {94, 100}, hours[] = {2, 0.5}, one_level[] = {92}, one_time[] = {8};
  double tolerance = check_tolerance("noise.dose", "rel");
  check_near_relative("noise.dose", cw_niosh_dose_percent(levels, hours, 2),
                      check_number("noise.dose", "niosh_percent"), tolerance);
  check_near_relative("noise.dose", cw_osha_dose_percent(levels, hours, 2),
                      check_number("noise.dose", "osha_percent"), tolerance);
  check_near_relative("noise.dose", cw_osha_dose_percent(one_level, one_time, 1),
                      check_number("noise.dose", "osha_8h_92"), tolerance);
}

/* The clock adds up to the same dose as the whole list, and what is faint counts for nothing. */
static void test_clock(void)
{
  CwExposure exposure = {0};
  double tolerance = check_tolerance("noise.dose", "rel");

  for (int minute = 0; minute < 120; minute++)
    cw_exposure_add(&exposure, 94, 60);
  for (int second = 0; second < 1800; second++)
    cw_exposure_add(&exposure, 100, 1);
  cw_exposure_add(&exposure, 79.9, 7200);
  check_near_relative("noise.dose", exposure.niosh_percent, check_number("noise.dose", "niosh_percent"),
                      tolerance);
  check_near_relative("noise.dose", exposure.osha_percent, check_number("noise.dose", "osha_percent"),
                      tolerance);
  g_assert_cmpfloat(exposure.seconds, ==, 7200 + 1800 + 7200);
  g_assert_cmpfloat(cw_exposure_hours_left(0, 8), ==, 8);
  g_assert_cmpfloat(cw_exposure_hours_left(75, 8), ==, 2);
  g_assert_cmpfloat(cw_exposure_hours_left(130, 8), ==, 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/electrics/exposure/times", test_times);
  g_test_add_func("/electrics/exposure/table", test_table);
  g_test_add_func("/electrics/exposure/dose", test_dose);
  g_test_add_func("/electrics/exposure/clock", test_clock);
  return g_test_run();
}
