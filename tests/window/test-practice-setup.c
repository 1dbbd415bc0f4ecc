/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the practice bay is told, read back by a JSON reader that is not the program's own. */
#include "vehicle/kinds/kinds.h"
#include "window/state/practice_vehicle.h"
#include <json-glib/json-glib.h>

static void check(const char *seat, const char *table)
{
  g_autoptr(CwRecord) vehicle = cw_record_new(cw_vehicle_get_type());
  g_autofree char *position = g_strconcat(seat, "/3", NULL),
                  *text = cw_practice_setup(vehicle, position, 4000000001u, table);
  g_autoptr(JsonParser) parser = json_parser_new();
  g_autoptr(GError) error = NULL;

  json_parser_load_from_data(parser, text, -1, &error);
  g_assert_no_error(error);
  JsonObject *setup = json_node_get_object(json_parser_get_root(parser));
  g_assert_cmpstr(json_object_get_string_member(setup, "seat"), ==, seat);
  g_assert_cmpint(json_object_get_int_member(setup, "position"), ==, 2);
  g_assert_cmpint(json_object_get_int_member(setup, "seed"), ==, 4000000001);
  g_assert_cmpstr(json_object_get_string_member(setup, "car"), ==, "alder-tourer");
  g_assert_true(json_object_has_member(setup, "table") == (table != NULL));
}

static void test_seats(void)
{
  check("driver", NULL);
  check("Rücksitz \"links\"", NULL);
  check("back\\slash\tand tab", "{\"outputs\":[]}");
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/window/practice-setup/seats", test_seats);
  return g_test_run();
}
