/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/map/checked_by_hand.h"
#include "job/map/wiring.h"
#include "vehicle/json/document.h"

static const char sheet[] =
    "{\"reference\":\"J-0147\",\"speakers\":[{\"output\":1},{\"output\":2},{\"output\":3},{\"output\":4}],"
    "\"amplifiers\":[{\"name\":\"Front\",\"channels\":[{\"channel\":1,\"outputs\":[1]},{\"channel\":2,"
    "\"outputs\":[2]},"
    "{\"channel\":3,\"outputs\":[]}]},{\"name\":\"Bass\",\"channels\":[{\"channel\":1,\"bridged_with\":2,"
    "\"outputs\":[3,4]}]}]}";

static CwRecord *new_vehicle(void)
{
  g_autoptr(GError) error = NULL;
  CwRecord *vehicle = cw_record_from_json(cw_vehicle_get_type(), sheet, -1, &error);
  g_assert_no_error(error);
  return vehicle;
}

static CwRecord *channel_at(CwRecord *vehicle, guint index)
{
  g_autoptr(GPtrArray) channels = cw_job_channels(vehicle);
  g_assert_cmpuint(channels->len, ==, 4);
  return g_ptr_array_index(channels, index);
}

static void check_outputs(CwRecord *vehicle, guint channel, const char *wanted)
{
  const CwNumbers *outputs = cw_amplifier_channel_get_outputs(channel_at(vehicle, channel));
  g_autoptr(GString) text = g_string_new(NULL);
  g_autoptr(GError) error = NULL;
  for (guint i = 0; i < outputs->n_rows; i++)
    g_string_append_printf(text, "%s%d", i ? " " : "", (int)outputs->values[i]);
  g_assert_cmpstr(text->str, ==, wanted);
  g_assert_true(cw_record_check(vehicle, &error));
}

static void test_change_places(void)
{
  g_autoptr(CwRecord) vehicle = new_vehicle();
  cw_job_set_proven(vehicle, 1, TRUE);
  cw_job_set_proven(vehicle, 2, TRUE);
  cw_job_set_proven(vehicle, 3, TRUE);
  g_assert_true(cw_job_wire(vehicle, 1, channel_at(vehicle, 1)));
  check_outputs(vehicle, 0, "2");
  check_outputs(vehicle, 1, "1");
  /* What was proven of a wire that moved is proven no more. */
  g_assert_false(cw_map_proof_get_proven(cw_job_find_map_proof(vehicle, 1)));
  g_assert_false(cw_map_proof_get_proven(cw_job_find_map_proof(vehicle, 2)));
  g_assert_true(cw_map_proof_get_proven(cw_job_find_map_proof(vehicle, 3)));
  /* The same pull again brings all back. */
  g_assert_true(cw_job_wire(vehicle, 1, channel_at(vehicle, 0)));
  check_outputs(vehicle, 0, "1");
  check_outputs(vehicle, 1, "2");
  g_assert_false(cw_job_wire(vehicle, 1, channel_at(vehicle, 0)));
}

static void test_shared_channel(void)
{
  g_autoptr(CwRecord) vehicle = new_vehicle();
  g_autofree char *words = cw_job_say_channel(channel_at(vehicle, 3));
  g_assert_cmpstr(words, ==, "Bass 1 + 2");
  g_assert_true(cw_job_wire(vehicle, 1, channel_at(vehicle, 3)));
  check_outputs(vehicle, 3, "1 4");
  check_outputs(vehicle, 0, "3");
  g_assert_true(cw_job_wire(vehicle, 4, channel_at(vehicle, 2)));
  check_outputs(vehicle, 3, "1");
  check_outputs(vehicle, 2, "4");
}

static void test_off_and_on(void)
{
  g_autoptr(CwRecord) vehicle = new_vehicle();
  g_assert_true(cw_job_wire(vehicle, 2, NULL));
  check_outputs(vehicle, 1, "");
  g_assert_null(cw_job_find_channel(vehicle, 2));
  g_assert_false(cw_job_wire(vehicle, 2, NULL));
  /* An output that came from nowhere joins those that are there. */
  g_assert_true(cw_job_wire(vehicle, 2, channel_at(vehicle, 3)));
  check_outputs(vehicle, 3, "3 4 2");
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/job/wiring/change-places", test_change_places);
  g_test_add_func("/job/wiring/shared-channel", test_shared_channel);
  g_test_add_func("/job/wiring/off-and-on", test_off_and_on);
  return g_test_run();
}
