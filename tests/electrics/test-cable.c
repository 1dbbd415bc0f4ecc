/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "electrics/cable.h"

#include <stdlib.h>
#include <string.h>

/* "0000" is -3, "00" is -1, "4" is 4. */
static int gauge_of(const char *text)
{
  return strspn(text, "0") == strlen(text) ? 1 - (int)strlen(text) : atoi(text);
}

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
    g_assert_cmpfloat(cw_cable_rating_a(size * 1.01, CW_COPPER), >, cw_cable_rating_a(size, CW_COPPER));
  }
  g_assert_true(isnan(cw_cable_ohm_per_km(0, CW_COPPER, 20)) && isnan(cw_cable_rating_a(-1, CW_COPPER)));
}

/* IEC 60028 (recalled) and trade knowledge of copper-clad aluminium. */
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

/* ISO 8820-3's types C and E (recalled): every rating that either has up to 80 A is among ours, and none
 * besides. */
static void test_fuses(void)
{
  const double *fuses;
  size_t n = cw_fuses(&fuses), n_blade = 0;
  static const char *const types[] = {"C", "E"};
  static const size_t n_of[] = {13, 7};
  for (size_t i = 0; i < n; i++) {
    gboolean known = fuses[i] > 80;
    for (size_t type = 0; type < 2; type++)
      for (size_t k = 0; k < n_of[type]; k++) {
        g_autofree char *key = g_strdup_printf("%s.%zu", types[type], k);
        known |= check_number("fuse.ratings", key) == fuses[i];
      }
    g_assert_true(known);
    n_blade += fuses[i] <= 80;
    if (i)
      g_assert_cmpfloat(fuses[i], >, fuses[i - 1]);
  }
  g_assert_cmpuint(n_blade, ==, 13 + 7 - 3); /* 20, 30 and 40 A are of both types */
  g_assert_cmpfloat(cw_fuse_for(0.2), ==, 1);
  g_assert_cmpfloat(cw_fuse_for(40), ==, 40);
  g_assert_cmpfloat(cw_fuse_for(40.01), ==, 50);
  g_assert_true(isnan(cw_fuse_for(501)));
}

static void test_choice(void)
{
  /* 60 A over 5 m: 0.5 V there and back ask for 0.833 ohm/km or less: 25 mm2 (0.78) in IEC 60228. */
  CwCableChoice by_drop = cw_choose_cable(60, 5, CW_COPPER, 0.5);
  g_assert_cmpfloat(by_drop.size_mm2, ==, 25);
  g_assert_cmpfloat(by_drop.fuse_a, ==, 60);
  check_near("drop.limits", by_drop.drop_v, 2 * 5 * 60 * 0.78 / 1000, 1e-12);
  /* Over 20 cm the drop is nothing: the fuse decides. */
  CwCableChoice by_fuse = cw_choose_cable(60, 0.2, CW_COPPER, 0.5);
  g_assert_cmpfloat(by_fuse.size_mm2, ==, by_fuse.least_for_fuse_mm2);
  g_assert_cmpfloat(by_fuse.size_mm2, >, by_fuse.least_for_drop_mm2);
  g_assert_cmpfloat(by_fuse.rating_a, >=, by_fuse.fuse_a);
  g_assert_true(isnan(cw_choose_cable(400, 20, CW_COPPER, 0.5).size_mm2));
  CwCableChoice of_nothing = cw_choose_cable(0, 5, CW_COPPER, 0.5);
  g_assert_true(isnan(of_nothing.size_mm2) && isnan(of_nothing.fuse_a));
  /* Whatever is chosen keeps both promises, and the next size down breaks one. */
  for (double current = 2; current < 300; current *= 1.3)
    for (double length = 0.5; length < 8; length *= 1.5)
      for (int material = CW_COPPER; material <= CW_ALUMINIUM; material++) {
        CwCableChoice choice = cw_choose_cable(current, length, (CwMaterial)material, 0.5);
        const double *sizes;
        size_t n = cw_cable_sizes(&sizes), at = 0;
        if (isnan(choice.size_mm2))
          continue;
        while (at < n && sizes[at] < choice.size_mm2)
          at++;
        g_assert_cmpfloat(choice.drop_v, <=, 0.5);
        g_assert_cmpfloat(choice.fuse_a, >=, current);
        g_assert_cmpfloat(choice.rating_a, >=, choice.fuse_a);
        if (at)
          g_assert_true(cw_two_way_drop_v(cw_cable_ohm_per_km(sizes[at - 1], (CwMaterial)material, 20),
                                          length, current) > 0.5 ||
                        cw_cable_rating_a(sizes[at - 1], (CwMaterial)material) < choice.fuse_a);
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
  g_test_add_func("/electrics/cable/fuses", test_fuses);
  g_test_add_func("/electrics/cable/choice", test_choice);
  return g_test_run();
}
