/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/response/bands.h"

static void check_table(const char *id, int fraction)
{
  CwBand bands[200];
  size_t count = cw_bands_within(fraction, 19.9, 20001, bands, G_N_ELEMENTS(bands));
  double tolerance = check_tolerance(id, "rel");

  g_assert_cmpuint(count, ==, check_rows(id));
  for (size_t i = 0; i < count; i++) {
    CwBand one = cw_band(fraction, (int)check_cell(id, i, "x"));
    check_near_relative(id, bands[i].centre_hz, check_cell(id, i, "fm"), tolerance);
    check_near_relative(id, bands[i].low_hz, check_cell(id, i, "f_low"), tolerance);
    check_near_relative(id, bands[i].high_hz, check_cell(id, i, "f_high"), tolerance);
    g_assert_cmpfloat(one.centre_hz, ==, bands[i].centre_hz);
  }
}

/* IEC 61260-1:2014, by formula. */
static void test_tables(void)
{
  check_near_relative("bands.G", CW_OCTAVE_RATIO, check_number("bands.G", NULL),
                      check_tolerance("bands.G", "rel"));
  check_table("bands.oct1", 1);
  check_table("bands.oct3", 3);
  check_table("bands.oct6", 6);
  check_table("bands.oct12", 12);
}

static void test_count(void)
{
  static const int fractions[] = {1, 3, 6, 12};

  for (size_t i = 0; i < G_N_ELEMENTS(fractions); i++) {
    char *key = g_strdup_printf("%d", fractions[i]);
    g_assert_cmpuint(cw_bands_within(fractions[i], 19.9, 20001, NULL, 0), ==,
                     (size_t)check_number("bands.count", key));
    g_free(key);
  }
}

/* The old base-two series differs by 1 % at 20 kHz; ours is base ten. */
static void test_base_ten(void)
{
  double tolerance = check_tolerance("bands.base2_trap", "rel");
  check_near_relative("bands.base2_trap", cw_band(3, 13).centre_hz,
                      check_number("bands.base2_trap", "base10"), tolerance);
  g_assert_cmpfloat(fabs(cw_band(3, 13).centre_hz / check_number("bands.base2_trap", "base2") - 1), >, 0.01);
}

/* In even fractions 1 kHz is an edge and not a centre; neighbours share their edges in all. */
static void test_edges(void)
{
  check_below("edge at 1 kHz", fabs(cw_band(6, 0).low_hz - 1000), 1e-9);
  check_below("edge at 1 kHz", fabs(cw_band(12, 0).low_hz - 1000), 1e-9);
  for (int fraction = 1; fraction <= 48; fraction++)
    for (int index = -10; index < 10; index++)
      check_below("gap between neighbours",
                  fabs(cw_band(fraction, index).high_hz / cw_band(fraction, index + 1).low_hz - 1), 1e-13);
}

/* IEC 61672-1, exact values and the standard's rounded table. */
static void test_weightings(void)
{
  const char *id = "weight.table";

  for (size_t i = 0; i < check_rows(id); i++) {
    double hz = 1000 * pow(10, 0.1 * ((double)i - 20));
    check_near_relative(id, hz, check_cell(id, i, "exact f"), 1e-8);
    check_near(id, cw_weighting_a_db(hz), check_cell(id, i, "A exact"), 1e-6);
    check_near(id, cw_weighting_c_db(hz), check_cell(id, i, "C exact"), 1e-6);
    check_near(id, cw_weighting_a_db(hz), check_cell(id, i, "A table"), 0.0501);
    check_near(id, cw_weighting_c_db(hz), check_cell(id, i, "C table"), 0.0501);
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/bands/tables", test_tables);
  g_test_add_func("/bands/count", test_count);
  g_test_add_func("/bands/base-ten", test_base_ten);
  g_test_add_func("/bands/edges", test_edges);
  g_test_add_func("/bands/weightings", test_weightings);
  return g_test_run();
}
