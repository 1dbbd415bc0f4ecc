/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "job/findings/review.h"
#include "job/sheet/electrics.h"
#include "vehicle/json/document.h"
#include "vehicle/json/json_scan.h"
#include <string.h>

/* One amplifier on 14.4 V; its efficiency, cable and channels are the test's. Five speakers of 4, 4, 8, 4 and
 * 2 ohm. */
static CwRecord *make_vehicle(const char *efficiency, const char *cable, const char *channels)
{
  g_autofree char *json = g_strdup_printf(
      "{\"reference\":\"J-0147\",\"supply\":{\"running_v\":14.4,\"alternator_a\":60},\"speakers\":["
      "{\"output\":1,\"nominal_ohm\":4},{\"output\":2,\"nominal_ohm\":4},{\"output\":3,\"nominal_ohm\":8},"
      "{\"output\":4,\"nominal_ohm\":4},{\"output\":5,\"nominal_ohm\":2}],"
      "\"amplifiers\":[{\"name\":\"Bass \\\"one\\\"\",\"efficiency\":%s,\"cable\":%s,\"channels\":%s}]}",
      efficiency, cable, channels);
  g_autoptr(GError) error = NULL;
  CwRecord *vehicle = cw_record_from_json(cw_vehicle_get_type(), json, -1, &error);
  g_assert_no_error(error);
  return vehicle;
}

/* A channel of 100 W into 4 ohm, least 2 ohm. */
static char *channel_of(const char *outputs, const char *more)
{
  return g_strdup_printf("[{\"channel\":3,\"rated_w\":100,\"rated_ohm\":4,\"least_ohm\":2,\"outputs\":%s%s}]",
                         outputs, more);
}

/* Every way of joining speakers, against Ohm. The voltage of a rated power does not change with the load: 20
 * V are 100 W in 4 ohm (power.v), and so P R stays 400. */
static void test_loads(void)
{
  static const struct {
    const char *outputs, *more, *key;
  } cases[] = {
      {"[1,2]", "", "4||4"},      {"[1,2]", ",\"wiring\":\"series\"", "4+4"},
      {"[1,3]", "", "4||8"},      {"[1,2,4]", "", "4||4||4"},
      {"[5,1,2]", "", "2||4||4"}, {"[1,2]", ",\"bridged_with\":4,\"wiring\":\"series\"", "4+4"},
  };
  for (guint i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_autofree char *channels = channel_of(cases[i].outputs, cases[i].more);
    g_autoptr(CwRecord) vehicle = make_vehicle("0.85", "{}", channels);
    g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
    const CwChannelLoad *load = &electrics->amplifiers[0].loads[0];
    double ohm = check_number("power.loads", cases[i].key);
    g_assert_cmpuint(electrics->amplifiers[0].n_loads, ==, 1);
    check_near_relative("power.loads", load->load_ohm, ohm, 1e-9);
    check_near_relative("power.v", load->volts, 20.0, 1e-12);
    check_near_relative("power.v", load->power_w * load->load_ohm, 400.0, 1e-12);
    g_assert_cmpint(load->ok, ==, ohm >= 2);
    g_assert_cmpuint(load->n_channels, ==, strstr(cases[i].more, "bridged") ? 2 : 1);
  }
}

/* Channels without speakers draw nothing; a vehicle without amplifiers draws nothing at all. */
static void test_nothing(void)
{
  g_autoptr(CwRecord) vehicle = make_vehicle("0.5", "{}", "[{\"channel\":1,\"rated_w\":500,\"outputs\":[]}]");
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  g_assert_cmpuint(electrics->amplifiers[0].n_loads, ==, 0);
  g_assert_cmpfloat(electrics->total_a, ==, 0);
  cw_list_clear(cw_vehicle_get_amplifiers(vehicle));
  g_autoptr(CwElectrics) empty = cw_electrics_new(vehicle);
  g_autofree char *json = cw_electrics_to_json(empty);
  g_assert_cmpstr(json, ==, "{\"amplifiers\":[],\"total_a\":0,\"alternator_ok\":true}\n");
}

/* The currents of the energy balance at 14.4 V, two channels at half the power each. */
static void test_current(void)
{
  guint seen = 0;
  for (size_t i = 0; i < check_rows("power.current"); i++) {
    if (check_cell("power.current", i, "V") != 14.4)
      continue;
    g_autofree char *efficiency = g_strdup_printf("%.2f", check_cell("power.current", i, "eta"));
    double half_w = check_cell("power.current", i, "P out") / 2;
    g_autofree char *channels =
        g_strdup_printf("[{\"channel\":1,\"rated_w\":%g,\"rated_ohm\":4,\"outputs\":[1]},"
                        "{\"channel\":2,\"rated_w\":%g,\"rated_ohm\":8,\"outputs\":[3]}]",
                        half_w, half_w);
    g_autoptr(CwRecord) vehicle = make_vehicle(efficiency, "{}", channels);
    g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
    check_near_relative("power.current", electrics->total_a, check_cell("power.current", i, "A"),
                        check_tolerance("power.current", "rel"));
    g_assert_cmpint(cw_electrics_alternator_ok(electrics), ==, electrics->total_a <= 60);
    seen++;
  }
  g_assert_cmpuint(seen, ==, 6);
}

/* The smallest size is found again by trying all of IEC 60228's, and its drop by V = 2 L I R. */
static void test_cable(void)
{
  for (double length_m = 0.5; length_m < 9; length_m += 1.7)
    for (double watts = 20; watts < 2400; watts *= 1.9) {
      g_autofree char *cable = g_strdup_printf("{\"length_m\":%g}", length_m);
      g_autofree char *channels =
          g_strdup_printf("[{\"channel\":1,\"rated_w\":%.3f,\"rated_ohm\":4,\"outputs\":[1]}]", watts);
      g_autoptr(CwRecord) vehicle = make_vehicle("0.75", cable, channels);
      g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
      const CwAmplifierSupply *a = &electrics->amplifiers[0];
      size_t row = 0;
      for (; row < check_rows("iec60228.class5"); row++) {
        double size = g_ascii_strtod(check_text("iec60228.class5", row, "mm2"), NULL);
        double drop_v = 2 * length_m * a->current_a * check_cell("iec60228.class5", row, "max ohm/km") / 1000;
        if (drop_v > 0.5 || cw_cable_rating(size, CW_COPPER).current_a < a->cable.fuse_a)
          continue;
        check_near_relative("iec60228.class5", a->cable.size_mm2, size, 1e-12);
        check_near_relative("iec60228.class5", a->cable.drop_v, drop_v, 1e-9);
        break;
      }
      g_assert_cmpint(isnan(a->cable.size_mm2), ==, row == check_rows("iec60228.class5"));
      g_assert_true(isnan(a->cable.fuse_a) || a->cable.fuse_a >= a->current_a);
    }
}

static guint count_findings(CwRecord *vehicle, const char *code)
{
  CwList *findings = cw_vehicle_get_findings(vehicle);
  guint count = 0;
  for (guint i = 0; i < cw_list_get_length(findings); i++) {
    CwRecord *finding = cw_list_get(findings, i);
    if (!g_str_equal(cw_finding_get_code(finding), code))
      continue;
    g_assert_cmpint(cw_finding_get_stage(finding), ==, CW_STAGE_SUPPLY);
    g_assert_true(*cw_finding_get_evidence(finding) && *cw_finding_get_advice(finding));
    count++;
  }
  return count;
}

/* Each fault is found, and only it; mending it takes the finding away. 500 W at 0.85 and 14.4 V are 40.8 A: a
 * fuse of 50 A. */
static void test_findings(void)
{
  static const struct {
    const char *cable, *channels;
    guint load, thin, fuse;
  } cases[] = {
      {"{\"length_m\":2}",
       "[{\"channel\":1,\"rated_w\":500,\"rated_ohm\":4,\"least_ohm\":4,\"outputs\":[1]}]", 0, 0, 0},
      {"{\"length_m\":2}",
       "[{\"channel\":1,\"rated_w\":250,\"rated_ohm\":4,\"least_ohm\":4,\"outputs\":[1,2]}]", 1, 0, 0},
      {"{\"length_m\":2,\"size_mm2\":10}",
       "[{\"channel\":1,\"rated_w\":500,\"rated_ohm\":4,\"outputs\":[1]}]", 0, 0, 0},
      /* bears the fuse, but loses 1.17 V */
      {"{\"length_m\":7.5,\"size_mm2\":10}",
       "[{\"channel\":1,\"rated_w\":500,\"rated_ohm\":4,\"outputs\":[1]}]", 0, 1, 0},
      /* loses little, but burns before the fuse */
      {"{\"length_m\":0.5,\"size_mm2\":4}",
       "[{\"channel\":1,\"rated_w\":500,\"rated_ohm\":4,\"outputs\":[1]}]", 0, 1, 1},
      {"{\"length_m\":2,\"size_mm2\":16,\"fuse_a\":100}",
       "[{\"channel\":1,\"rated_w\":500,\"rated_ohm\":4,\"outputs\":[1]}]", 0, 0, 1},
      {"{\"length_m\":2,\"size_mm2\":16,\"fuse_a\":80}",
       "[{\"channel\":1,\"rated_w\":500,\"rated_ohm\":4,\"outputs\":[1]}]", 0, 0, 0},
      /* a pair that may drive 4 ohm, on 2 */
      {"{\"length_m\":2}",
       "[{\"channel\":1,\"bridged_with\":2,\"rated_w\":200,\"rated_ohm\":4,\"least_ohm\":4,\"outputs\":[5]}]",
       1, 0, 0},
  };
  for (guint i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_autoptr(CwRecord) vehicle = make_vehicle("0.85", cases[i].cable, cases[i].channels);
    cw_job_review(vehicle);
    cw_job_review(vehicle); /* and not twice */
    g_test_message("case %u", i);
    g_assert_cmpuint(count_findings(vehicle, "load-too-low"), ==, cases[i].load);
    g_assert_cmpuint(count_findings(vehicle, "cable-too-thin"), ==, cases[i].thin);
    g_assert_cmpuint(count_findings(vehicle, "fuse-too-large"), ==, cases[i].fuse);
    gboolean any = cases[i].load + cases[i].thin + cases[i].fuse > 0;
    g_assert_cmpint(cw_stage_get_state(cw_vehicle_find_stage(vehicle, CW_STAGE_SUPPLY)), ==,
                    any ? CW_STAGE_TO_SETTLE : CW_STAGE_DONE);
  }
}

/* The JSON is JSON whatever the name, and the working holds the numbers that it ends with. */
static void test_text(void)
{
  g_autofree char *channels = channel_of("[1,2]", ",\"bridged_with\":4");
  g_autoptr(CwRecord) vehicle =
      make_vehicle("0.85", "{\"length_m\":5,\"size_mm2\":0.5,\"fuse_a\":30}", channels);
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  g_autoptr(GError) error = NULL;
  g_autofree char *json = cw_electrics_to_json(electrics), *compact = cw_json_compact(json, -1, &error);
  g_assert_no_error(error);
  g_assert_nonnull(strstr(compact, "\"name\":\"Bass \\\"one\\\"\""));
  g_assert_nonnull(strstr(compact, "\"channels\":[3,4],\"ohm\":2,\"least_ohm\":2,\"ok\":true"));
  g_auto(GStrv) working = cw_electrics_working(electrics, 0);
  g_autofree char *all = g_strjoinv("\n", working);
  g_autofree char *current = g_strdup_printf("= %.4g A", electrics->total_a),
                  *volts = g_strdup_printf("= %.4g V", electrics->amplifiers[0].loads[0].volts);
  g_assert_nonnull(strstr(all, current));
  g_assert_nonnull(strstr(all, volts));
  g_assert_nonnull(strstr(all, "30 A"));
}

/* What cable and fuse rest on is said: the law's gauge with its table, and a fuse that no published list has.
 * At 14.4 V and 0.8: 32 A, 60 A and 90 A. */
static void test_sources(void)
{
  static const struct {
    int watts;
    const char *cable, *in_working, *not_in_working, *in_json;
  } cases[] = {
      {370, "{\"length_m\":2}", "from memory", "bolted",
       "\"fuse_a\":35,\"rating_a\":40,\"rating_source\":\"published\",\"fuse_source\":\"from-memory\""},
      {690, "{\"length_m\":5}", "4 AWG, insulation of 60 °C: 33 CFR 183.425, Table 5", "no source)\nDrop",
       "\"fuse_a\":60,\"rating_a\":105,\"rating_source\":\"published\",\"fuse_source\":\"published\""},
      {1037, "{\"length_m\":2}", "bolted fuse: common practice, no source", "from memory",
       "\"fuse_source\":\"common-practice\""},
      {370, "{\"length_m\":2,\"material\":\"copper-clad-aluminium\"}",
       "1.55 times the resistance of copper (common practice, no source)", "bolted",
       "\"rating_source\":\"derived\""},
      {370, "{\"length_m\":2,\"size_mm2\":0.5}", "bears 6.075 A (derived from 18 AWG", "bolted",
       "\"rating_source\":\"published\""},
      {5000, "{\"length_m\":20}", "no standard cable will do", "nan", "\"rating_a\":null"},
  };
  for (guint i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_autofree char *channels =
        g_strdup_printf("[{\"channel\":1,\"rated_w\":%d,\"rated_ohm\":4,\"outputs\":[1]}]", cases[i].watts);
    g_autoptr(CwRecord) vehicle = make_vehicle("0.8", cases[i].cable, channels);
    g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
    g_auto(GStrv) working = cw_electrics_working(electrics, 0);
    g_autofree char *all = g_strjoinv("\n", working), *json = cw_electrics_to_json(electrics);
    g_test_message("case %u: %s\n%s", i, all, json);
    g_assert_nonnull(strstr(all, cases[i].in_working));
    g_assert_null(strstr(all, cases[i].not_in_working));
    g_assert_nonnull(strstr(json, cases[i].in_json));
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/job/electrics/loads", test_loads);
  g_test_add_func("/job/electrics/nothing", test_nothing);
  g_test_add_func("/job/electrics/current", test_current);
  g_test_add_func("/job/electrics/cable", test_cable);
  g_test_add_func("/job/electrics/findings", test_findings);
  g_test_add_func("/job/electrics/text", test_text);
  g_test_add_func("/job/electrics/sources", test_sources);
  return g_test_run();
}
