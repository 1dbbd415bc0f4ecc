/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "electrics/power.h"

/* Ohm. */
static void test_volts(void)
{
  static const char *const columns[] = {"1 ohm", "2 ohm", "4 ohm", "8 ohm"};
  for (size_t i = 0; i < check_rows("power.v"); i++)
    for (size_t k = 0; k < G_N_ELEMENTS(columns); k++)
      check_near_relative("power.v", cw_power_volts(check_cell("power.v", i, "P W"), 1 << k),
                          check_cell("power.v", i, columns[k]), 5e-8); /* its eight digits */
  check_near_relative("power.pp", cw_peak_volts(20), check_number("power.pp", "peak"), 1e-9);
  check_near_relative("power.pp", cw_volts_dbv(20), check_number("power.pp", "dBV"), 1e-9);
  check_near_relative("power.pp", cw_volts_dbu(20), check_number("power.pp", "dBu"), 1e-9);
}

static void test_loads(void)
{
  const double four[] = {4, 4, 4}, two[] = {2, 2}, mixed[] = {4, 8}, mixed_two[] = {2, 4, 4};
  double series = cw_series_ohm(four, 2), pairs[] = {series, series},
         tolerance = check_tolerance("power.loads", "rel");
  check_near_relative("power.loads", cw_parallel_ohm(four, 2), check_number("power.loads", "4||4"),
                      tolerance);
  check_near_relative("power.loads", series, check_number("power.loads", "4+4"), tolerance);
  check_near_relative("power.loads", cw_parallel_ohm(two, 2), check_number("power.loads", "2||2"), tolerance);
  check_near_relative("power.loads", cw_parallel_ohm(mixed, 2), check_number("power.loads", "4||8"),
                      tolerance);
  check_near_relative("power.loads", cw_parallel_ohm(four, 3), check_number("power.loads", "4||4||4"),
                      tolerance);
  check_near_relative("power.loads", cw_parallel_ohm(pairs, 2), check_number("power.loads", "2x2 of 4"),
                      tolerance);
  check_near_relative("power.loads", cw_parallel_ohm(mixed_two, 3), check_number("power.loads", "2||4||4"),
                      tolerance);
  check_near_relative("power.loads", cw_series_ohm(two, 2), check_number("power.loads", "DVC 2 series"),
                      tolerance);
  check_near_relative("power.loads", cw_parallel_ohm(two, 2), check_number("power.loads", "DVC 2 parallel"),
                      tolerance);
  g_assert_true(isinf(cw_parallel_ohm(NULL, 0)) && isinf(cw_series_ohm(NULL, 0)));
}

/* Two opposite sources. */
static void test_bridge(void)
{
  double tolerance = check_tolerance("power.bridge", "rel");
  check_near_relative("power.bridge", cw_bridged_power_w(75) / 75,
                      check_number("power.bridge", "power_ratio"), tolerance);
  check_near_relative("power.bridge", cw_bridged_half_ohm(4), check_number("power.bridge", "load_each"),
                      tolerance);
  check_near_relative("power.bridge", cw_power_ratio_db(cw_bridged_power_w(1)),
                      check_number("power.bridge", "dB"), tolerance);
  check_near_relative("power.bridge", cw_power_volts(cw_bridged_power_w(75), 4) / cw_power_volts(75, 4),
                      check_number("power.bridge", "voltage_ratio"), tolerance);
}

/* The same voltage into another load. */
static void test_other_load(void)
{
  double w = cw_power_at_load_w(75, 4, 2);
  check_near("power.v", w, 150, 1e-12);
  check_near("power.v", cw_power_volts(w, 2), cw_power_volts(75, 4), 1e-12);
}

/* Energy in by energy out. */
static void test_current(void)
{
  for (size_t i = 0; i < check_rows("power.current"); i++) {
    double a =
        cw_supply_current_a(check_cell("power.current", i, "P out"), check_cell("power.current", i, "eta"),
                            check_cell("power.current", i, "V"));
    check_near_relative("power.current", a, check_cell("power.current", i, "A"),
                        check_tolerance("power.current", "rel"));
  }
}

static void test_target(void)
{
  for (size_t i = 0; i < check_rows("power.overlap"); i++) {
    double volts = cw_target_volts(100, 4, -check_cell("power.overlap", i, "g dB"));
    check_near("power.overlap", volts, check_cell("power.overlap", i, "V"),
               check_tolerance("power.overlap", "abs"));
    check_near("power.overlap", volts / 20, check_cell("power.overlap", i, "factor"),
               check_tolerance("power.overlap", "abs"));
  }
}

static void test_decibels(void)
{
  double tolerance = check_tolerance("power.db", "rel");
  check_near_relative("power.db", cw_power_ratio_db(2), check_number("power.db", "x2"), tolerance);
  check_near_relative("power.db", cw_power_ratio_db(3), check_number("power.db", "x3"), tolerance);
  check_near_relative("power.db", cw_power_ratio_db(10), check_number("power.db", "x10"), tolerance);
  check_near_relative("power.db", cw_db_power_ratio(3), check_number("power.db", "+3dB"), tolerance);
  check_near_relative("power.db", cw_db_power_ratio(6), check_number("power.db", "+6dB"), tolerance);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/electrics/power/volts", test_volts);
  g_test_add_func("/electrics/power/loads", test_loads);
  g_test_add_func("/electrics/power/bridge", test_bridge);
  g_test_add_func("/electrics/power/other-load", test_other_load);
  g_test_add_func("/electrics/power/current", test_current);
  g_test_add_func("/electrics/power/target", test_target);
  g_test_add_func("/electrics/power/decibels", test_decibels);
  return g_test_run();
}
