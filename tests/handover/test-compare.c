/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/compare.h"
#include "vehicle/json/document.h"
#include "vehicle/kinds/kinds.h"
#include <math.h>

static const char sheet[] =
    "{\"reference\":\"J-0147\",\"seats\":[\"driver\"],\"target\":[[20,3],[1000,0]],\"speakers\":["
    "{\"output\":1,\"name\":\"left "
    "high\",\"lowest_hz\":2000,\"distance_cm\":{\"driver\":90.5}},{\"output\":2,\"name\":\"right high\"},"
    "{\"output\":9,\"way\":\"sub\"}],"
    "\"tune\":{\"sample_rate_hz\":48000,\"outputs\":[{\"output\":1,\"gain_db\":-3,\"sections\":[{\"frequency_"
    "hz\":100,\"gain_db\":-2},"
    "{\"frequency_hz\":200,\"gain_db\":1.5}]},{\"output\":2,\"gain_db\":-4}]}}";

static CwRecord *make(void)
{
  g_autoptr(GError) error = NULL;
  CwRecord *vehicle = cw_record_from_json(cw_vehicle_get_type(), sheet, -1, &error);
  g_assert_no_error(error);
  return vehicle;
}

static CwRecord *speaker(CwRecord *vehicle, guint index)
{
  return cw_list_get(cw_vehicle_get_speakers(vehicle), index);
}

static CwRecord *tune_output(CwRecord *vehicle, guint index)
{
  return cw_list_get(cw_tune_get_outputs(cw_vehicle_get_tune(vehicle)), index);
}

static const CwChange *at(GPtrArray *changes, guint index)
{
  g_assert_cmpuint(changes->len, >, index);
  return g_ptr_array_index(changes, index);
}

static void test_same(void)
{
  g_autoptr(CwRecord) one = make(), other = make();
  g_autoptr(CwRecord) snapshot = cw_record_snapshot(one);
  g_autoptr(GPtrArray) changes = cw_compare_records(one, other, NULL),
                       with_snapshot = cw_compare_records(snapshot, other, NULL);
  g_assert_cmpuint(changes->len, ==, 0);
  g_assert_cmpuint(with_snapshot->len, ==, 0);
}

/* Every type of value, with its place, its words, and both values as JSON. */
static void test_values(void)
{
  g_autoptr(CwRecord) before = make(), after = make();
  const double hz[] = {20, 1000, 5000}, db[] = {3, 0, -1}, cm[] = {91};
  const char *const seats[] = {"driver", "rear", NULL}, *const names[] = {"driver"};
  cw_vehicle_set_reference(after, "J-\"0148\"");
  cw_vehicle_set_seats(after, seats);
  cw_vehicle_take_target(after, cw_numbers_new_curve(3, hz, db));
  cw_speaker_set_lowest_hz(speaker(after, 0), NAN);
  cw_speaker_take_distance_cm(speaker(after, 0), cw_numbers_new_named(1, names, cm));
  cw_speaker_set_way(speaker(after, 2), CW_WAY_LOW);
  cw_processor_set_outputs(cw_vehicle_get_processor(after), 10);
  cw_processor_set_shelves(cw_vehicle_get_processor(after), FALSE);
  static const struct {
    const char *path, *before, *after, *said_after;
  } wanted[] = {
      {"reference", "\"J-0147\"", "\"J-\\\"0148\\\"\"", "J-\"0148\""},
      {"seats", "[\"driver\"]", "[\"driver\",\"rear\"]", "[\"driver\",\"rear\"]"},
      {"target", "[[20,3],[1000,0]]", "[[20,3],[1000,0],[5000,-1]]", "3 points"},
      {"speakers[0].lowest_hz", "2000", "null", ""},
      {"speakers[0].distance_cm", "{\"driver\":90.5}", "{\"driver\":91}", "{\"driver\":91}"},
      {"speakers[2].way", "\"sub\"", "\"low\"", "Low"},
      {"processor.outputs", "null", "10", "10"},
      {"processor.shelves", "true", "false", "no"},
  };
  g_autoptr(GPtrArray) changes = cw_compare_records(before, after, NULL);
  for (guint i = 0; i < G_N_ELEMENTS(wanted); i++) {
    const CwChange *change = at(changes, i);
    g_assert_cmpint(change->kind, ==, CW_CHANGE_VALUE);
    g_assert_cmpstr(change->path, ==, wanted[i].path);
    g_assert_cmpstr(change->before, ==, wanted[i].before);
    g_assert_cmpstr(change->after, ==, wanted[i].after);
    g_assert_cmpstr(change->said_after, ==, wanted[i].said_after);
  }
  g_assert_cmpuint(changes->len, ==, G_N_ELEMENTS(wanted));
  g_assert_cmpstr(at(changes, 3)->what, ==, "left high: Lowest safe frequency");
  g_assert_cmpstr(at(changes, 3)->said_before, ==, "2000 Hz");
  g_assert_cmpstr(at(changes, 5)->what, ==, "Output 9: Way");
}

/* What has an identity is matched by it, whatever its place; what has none, by its place. */
static void test_lists(void)
{
  g_autoptr(CwRecord) before = make(), after = make();
  g_autoptr(CwRecord) added = cw_record_new(cw_speaker_get_type());
  CwList *speakers = cw_vehicle_get_speakers(after),
         *sections = cw_tune_output_get_sections(tune_output(after, 0));
  cw_speaker_set_output(added, 5);
  cw_speaker_set_name(added, "centre");
  cw_list_remove(speakers, 0);
  cw_list_insert(speakers, 0, added);
  cw_tune_section_set_gain_db(cw_list_get(sections, 1), 2.5);
  cw_tune_output_set_gain_db(tune_output(after, 1), -4.5);
  g_autoptr(GPtrArray) changes = cw_compare_records(before, after, NULL);
  g_assert_cmpuint(changes->len, ==, 4);
  g_assert_cmpint(at(changes, 0)->kind, ==, CW_CHANGE_ADDED);
  g_assert_cmpstr(at(changes, 0)->path, ==, "speakers[0]");
  g_assert_cmpstr(at(changes, 0)->what, ==, "centre");
  g_assert_null(at(changes, 0)->before);
  g_assert_cmpint(at(changes, 1)->kind, ==, CW_CHANGE_GONE);
  g_assert_cmpstr(at(changes, 1)->what, ==, "left high");
  g_assert_null(at(changes, 1)->after);
  g_assert_cmpstr(at(changes, 2)->path, ==, "tune.outputs[0].sections[1]");
  g_assert_cmpstr(at(changes, 2)->said_before, ==, "Correction, Peaking, Frequency 200 Hz, Gain 1.5 dB");
  g_assert_cmpstr(at(changes, 2)->said_after, ==, "Correction, Peaking, Frequency 200 Hz, Gain 2.5 dB");
  g_assert_cmpstr(at(changes, 3)->path, ==, "tune.outputs[1].gain_db");
  g_assert_cmpstr(at(changes, 3)->said_after, ==, "-4.5 dB");
}

/* Only what is asked for; and the other way round the same, with before and after exchanged. */
static void test_keys(void)
{
  static const CwFieldId only[] = {CW_VEHICLE_FIELD_TUNE, CW_NO_FIELD};
  g_autoptr(CwRecord) before = make(), after = make();
  cw_vehicle_set_reference(after, "J-0152");
  cw_tune_output_set_gain_db(tune_output(after, 1), 0);
  cw_list_remove(cw_tune_output_get_sections(tune_output(after, 0)), 1);
  g_autoptr(GPtrArray) changes = cw_compare_records(before, after, only),
                       back = cw_compare_records(after, before, only);
  g_assert_cmpuint(changes->len, ==, 2);
  g_assert_cmpuint(back->len, ==, 2);
  for (guint i = 0; i < 2; i++) {
    g_assert_cmpstr(at(changes, i)->path, ==, at(back, i)->path);
    g_assert_cmpstr(at(changes, i)->before, ==, at(back, i)->after);
    g_assert_cmpstr(at(changes, i)->after, ==, at(back, i)->before);
  }
  g_assert_cmpint(at(changes, 0)->kind, ==, CW_CHANGE_GONE);
  g_assert_cmpint(at(back, 0)->kind, ==, CW_CHANGE_ADDED);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/handover/compare/same", test_same);
  g_test_add_func("/handover/compare/values", test_values);
  g_test_add_func("/handover/compare/lists", test_lists);
  g_test_add_func("/handover/compare/keys", test_keys);
  return g_test_run();
}
