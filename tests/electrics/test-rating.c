/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "electrics/rating.h"
#include "gauge.h"

/* 33 CFR 183.425, Table 5, column of 60 degrees C: every gauge of it, at its own area, a hair above, and a
 * hair below, for a size that was rounded. */
static void test_law(void)
{
  g_assert_cmpuint(check_rows("ampacity.cfr183"), ==, 15);
  for (size_t i = 0; i < check_rows("ampacity.cfr183"); i++) {
    int gauge = gauge_of(check_text("ampacity.cfr183", i, "AWG"));
    double allowed_a = check_cell("ampacity.cfr183", i, "60"), area_mm2 = cw_gauge_mm2(gauge);
    const double sizes[] = {area_mm2, area_mm2 * 1.02, area_mm2 * 0.992};
    for (size_t k = 0; k < G_N_ELEMENTS(sizes); k++) {
      CwCableRating rating = cw_cable_rating(sizes[k], CW_COPPER);
      check_near("ampacity.cfr183", rating.current_a, allowed_a, check_tolerance("ampacity.cfr183", "abs"));
      g_assert_cmpint(rating.gauge, ==, gauge);
      g_assert_cmpint(rating.provenance, ==, CW_PUBLISHED);
    }
    /* Just below a gauge it is the next thinner one's; below the thinnest, less. */
    CwCableRating below = cw_cable_rating(area_mm2 * 0.985, CW_COPPER);
    double thinner_a = i ? check_cell("ampacity.cfr183", i - 1, "60") : allowed_a * 0.985;
    check_near_relative("ampacity.cfr183", below.current_a, thinner_a, 1e-12);
    g_assert_cmpint(below.provenance, ==, i ? CW_PUBLISHED : CW_DERIVED);
  }
}

/* Every standard size of IEC 60228: not above what the law allows the next thicker gauge, nor what it allows
 * the next thinner one with insulation of 105 degrees C in an engine's space. */
static void test_standard_sizes(void)
{
  const double *sizes;
  size_t n = cw_cable_sizes(&sizes), last = check_rows("ampacity.cfr183") - 1;
  g_assert_cmpuint(n, ==, check_rows("iec60228.class5"));
  for (size_t i = 0; i < n; i++) {
    CwCableRating rating = cw_cable_rating(sizes[i], CW_COPPER);
    size_t thicker = 0;
    while (thicker < last && cw_gauge_mm2(gauge_of(check_text("ampacity.cfr183", thicker, "AWG"))) < sizes[i])
      thicker++;
    g_assert_cmpfloat(rating.current_a, <=, check_cell("ampacity.cfr183", thicker, "60"));
    g_assert_cmpint(rating.provenance, ==, sizes[i] < cw_gauge_mm2(18) / 1.01 ? CW_DERIVED : CW_PUBLISHED);
    g_autofree char *thinner = g_strdup_printf("amps.%zu", thicker ? thicker - 1 : 0);
    g_assert_cmpfloat(rating.current_a, <=, check_number("ampacity.engine_space", thinner));
  }
}

/* The law's own column for engine spaces, and the currents as two public tables work them out. */
static void test_engine_space(void)
{
  for (size_t i = 0; i < check_rows("ampacity.cfr183"); i++) {
    g_autofree char *key = g_strdup_printf("amps.%zu", i);
    double engine_a = check_number("ampacity.engine_space", key);
    check_near("ampacity.engine_space",
               check_number("ampacity.engine_space", "factor") * check_cell("ampacity.cfr183", i, "105"),
               engine_a, check_tolerance("ampacity.engine_space", "abs"));
    g_assert_cmpfloat(
        cw_cable_rating(cw_gauge_mm2(gauge_of(check_text("ampacity.cfr183", i, "AWG"))), CW_COPPER).current_a,
        <, engine_a);
  }
}

/* As cables are sold: these are 4, 1, 1/0 and 2/0. */
static void test_round_sizes(void)
{
  g_assert_cmpint(cw_cable_rating(21, CW_COPPER).gauge, ==, 4);
  g_assert_cmpint(cw_cable_rating(42, CW_COPPER).gauge, ==, 1);
  g_assert_cmpint(cw_cable_rating(53, CW_COPPER).gauge, ==, 0);
  g_assert_cmpint(cw_cable_rating(67, CW_COPPER).gauge, ==, -1);
}

/* Another published table, of a single short wire in free air, allows every gauge more. */
static void test_free_air(void)
{
  static const char *const gauges[] = {"0000", "000", "00", "0",  "2",  "4", "6",
                                       "8",    "10",  "12", "14", "16", "18"};
  for (size_t i = 0; i < G_N_ELEMENTS(gauges); i++)
    g_assert_cmpfloat(cw_cable_rating(cw_gauge_mm2(gauge_of(gauges[i])), CW_COPPER).current_a, <,
                      check_number("awg.chassis_amps", gauges[i]));
}

/* Rising, never NAN, less for other metals for the same heat: I2 R is that of copper. */
static void test_properties(void)
{
  for (double size = 0.1; size < 300; size *= 1.003) {
    CwCableRating copper = cw_cable_rating(size, CW_COPPER);
    g_assert_cmpfloat(cw_cable_rating(size * 1.003, CW_COPPER).current_a, >=, copper.current_a);
    g_assert_cmpfloat(copper.current_a, >, 0);
    for (int material = CW_COPPER_CLAD_ALUMINIUM; material <= CW_ALUMINIUM; material++) {
      CwCableRating other = cw_cable_rating(size, (CwMaterial)material);
      check_near_relative("cca", other.current_a * other.current_a * cw_material_factor((CwMaterial)material),
                          copper.current_a * copper.current_a, 1e-12);
      g_assert_cmpint(other.provenance, ==, CW_DERIVED);
    }
  }
  /* Beyond 4/0 nothing is published: it stays. */
  g_assert_cmpfloat(cw_cable_rating(1000, CW_COPPER).current_a, ==,
                    cw_cable_rating(108, CW_COPPER).current_a);
  g_assert_true(isnan(cw_cable_rating(0, CW_COPPER).current_a));
  g_assert_true(isnan(cw_cable_rating(-1, CW_COPPER).current_a));
  g_assert_true(isnan(cw_cable_rating(NAN, CW_COPPER).current_a));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/electrics/rating/law", test_law);
  g_test_add_func("/electrics/rating/standard-sizes", test_standard_sizes);
  g_test_add_func("/electrics/rating/round-sizes", test_round_sizes);
  g_test_add_func("/electrics/rating/free-air", test_free_air);
  g_test_add_func("/electrics/rating/engine-space", test_engine_space);
  g_test_add_func("/electrics/rating/properties", test_properties);
  return g_test_run();
}
