/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "electrics/cable.h"

#include "gauge.h"

#include <string.h>

/* ASTM B258 geometry and IACS copper, beside a published wire table. */
static void test_gauges(void)
{
  for (size_t i = 0; i < check_rows("awg.table"); i++) {
    int gauge = gauge_of(check_text("awg.table", i, "AWG"));
    double ohm_per_km = cw_solid_ohm_per_km(cw_gauge_mm2(gauge));
    check_near_relative("awg.table", cw_gauge_diameter_mm(gauge), check_cell("awg.table", i, "d mm"),
                        check_tolerance("awg.table", "rel.d"));
    check_near_relative("awg.table", cw_gauge_mm2(gauge), check_cell("awg.table", i, "area mm2"),
                        check_tolerance("awg.table", "rel.area"));
    check_near_relative("awg.table", ohm_per_km, check_cell("awg.table", i, "ohm/km"),
                        check_tolerance("awg.table", "rel.R"));
    check_near_relative("awg.table", ohm_per_km, check_cell("awg.table", i, "published ohm/km"),
                        check_tolerance("awg.table", "rel.R_against_published"));
  }
}

/* The formula's own ratios. */
static void test_gauge_rules(void)
{
  double tolerance = check_tolerance("awg.rules", "rel");
  check_near_relative("awg.rules", cw_gauge_diameter_mm(4) / cw_gauge_diameter_mm(5),
                      check_number("awg.rules", "step"), tolerance);
  check_near_relative("awg.rules", cw_gauge_mm2(0) / cw_gauge_mm2(3), check_number("awg.rules", "n+3"),
                      tolerance);
  check_near_relative("awg.rules", cw_gauge_mm2(2) / cw_gauge_mm2(8), check_number("awg.rules", "n+6"),
                      tolerance);
  check_near_relative("awg.rules", cw_gauge_mm2(8) / cw_gauge_mm2(18), check_number("awg.rules", "n+10"),
                      tolerance);
}

/* IEC 60228, as three public cable makers' tables give it. */
static void test_class_5(void)
{
  const double *sizes;
  size_t n = cw_cable_sizes(&sizes);
  g_assert_cmpuint(n, ==, check_rows("iec60228.class5"));
  for (size_t i = 0; i < n; i++) {
    double size = g_ascii_strtod(check_text("iec60228.class5", i, "mm2"), NULL);
    g_assert_cmpfloat(sizes[i], ==, size);
    check_near("iec60228.class5", cw_cable_ohm_per_km(size, CW_COPPER, 20),
               check_cell("iec60228.class5", i, "max ohm/km"), 1e-12);
    check_near_relative("iec60228.class5", cw_solid_ohm_per_km(size),
                        check_cell("iec60228.class5", i, "17.241/area"), 1e-4);
  }
}

/* Between standard sizes: falling without a jump, and never better than solid copper. */
static void test_between_sizes(void)
{
  for (double size = 0.3; size < 200; size *= 1.01) {
    g_assert_cmpfloat(cw_cable_ohm_per_km(size * 1.01, CW_COPPER, 20), <,
                      cw_cable_ohm_per_km(size, CW_COPPER, 20));
    g_assert_cmpfloat(cw_cable_ohm_per_km(size * 1.01, CW_COPPER, 20), >,
                      0.97 * cw_cable_ohm_per_km(size, CW_COPPER, 20));
    g_assert_cmpfloat(cw_cable_ohm_per_km(size, CW_COPPER, 20), >, cw_solid_ohm_per_km(size));
  }
  g_assert_true(isnan(cw_cable_ohm_per_km(0, CW_COPPER, 20)) &&
                isnan(cw_cable_ohm_per_km(-1, CW_COPPER, 20)));
}

/* IEC 60028 (from memory) and trade knowledge of copper-clad aluminium. */
static void test_material(void)
{
  check_near_relative("cu.alpha", CW_COPPER_PER_KELVIN, check_number("cu.alpha", "alpha"),
                      check_tolerance("cu.alpha", "rel"));
  check_near_relative("cu.alpha", CW_COPPER_OHM_MM2_PER_KM / 1000, check_number("cu.alpha", "rho"), 1e-9);
  for (size_t i = 0; i < check_rows("cu.temp"); i++)
    check_near("cu.temp", cw_temperature_factor(check_cell("cu.temp", i, "degC")),
               check_cell("cu.temp", i, "factor"), check_tolerance("cu.temp", "abs"));
  check_near_relative("cca", cw_material_factor(CW_ALUMINIUM), check_number("cca", "aluminium"), 1e-6);
  g_assert_cmpfloat(cw_material_factor(CW_COPPER_CLAD_ALUMINIUM), >=, check_number("cca", "cca_low"));
  g_assert_cmpfloat(cw_material_factor(CW_COPPER_CLAD_ALUMINIUM), <=, check_number("cca", "cca_high"));
}

/* V = 2 L I R, computed by hand. */
static void test_drop(void)
{
  double tolerance = check_tolerance("drop.examples", "rel");
  for (size_t i = 0; i < check_rows("drop.examples"); i++) {
    const char *cable = check_text("drop.examples", i, "cable");
    double size = g_ascii_strtod(cable, NULL), m = check_cell("drop.examples", i, "m"),
           a = check_cell("drop.examples", i, "A");
    double ohm_per_km = strstr(cable, "AWG") ? cw_solid_ohm_per_km(cw_gauge_mm2((int)size))
                                             : cw_cable_ohm_per_km(size, CW_COPPER, 20);
    double drop = cw_two_way_drop_v(ohm_per_km, m, a);
    check_near_relative("drop.examples", ohm_per_km, check_cell("drop.examples", i, "ohm/km"), tolerance);
    check_near_relative("drop.examples", 1000 * cw_loop_ohm(ohm_per_km, m),
                        check_cell("drop.examples", i, "loop mohm"), tolerance);
    check_near_relative("drop.examples", drop, check_cell("drop.examples", i, "V"), tolerance);
    check_near_relative("drop.examples", 100 * drop / 14.4, check_cell("drop.examples", i, "% 14.4"),
                        tolerance);
    check_near_relative("drop.examples", drop * a, check_cell("drop.examples", i, "W"), tolerance);
  }
  for (size_t i = 0; i < check_rows("drop.speaker"); i++) {
    double load = check_cell("drop.speaker", i, "ohm");
    double ohm_per_km = cw_solid_ohm_per_km(cw_gauge_mm2((int)check_cell("drop.speaker", i, "AWG")));
    double loop = cw_loop_ohm(ohm_per_km, check_cell("drop.speaker", i, "m"));
    check_near("drop.speaker", loop, check_cell("drop.speaker", i, "loop ohm"), 1e-6);
    check_near("drop.speaker", cw_lead_loss_db(loop, load), check_cell("drop.speaker", i, "dB"),
               check_tolerance("drop.speaker", "abs"));
    check_near("drop.speaker", 100 * cw_lead_loss_part(loop, load), check_cell("drop.speaker", i, "% lost"),
               1e-5);
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/electrics/cable/gauges", test_gauges);
  g_test_add_func("/electrics/cable/gauge-rules", test_gauge_rules);
  g_test_add_func("/electrics/cable/class-5", test_class_5);
  g_test_add_func("/electrics/cable/between-sizes", test_between_sizes);
  g_test_add_func("/electrics/cable/material", test_material);
  g_test_add_func("/electrics/cable/drop", test_drop);
  return g_test_run();
}
