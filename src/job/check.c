/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/check.h"
#include "job/input_file.h"
#include "signal/filters/section.h"
#include "vehicle/json/document.h"
#include "vehicle/json/json_scan.h"
#include "vehicle/project/project.h"
#include <json-glib/json-glib.h>
#include <math.h>
#include <string.h>

typedef struct {
  const char *path;
  GPtrArray *wrong;
  double a_sign;
} TableCheck;

static void note(const TableCheck *check, const char *format, ...) G_GNUC_PRINTF(2, 3);

static void note(const TableCheck *check, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  g_ptr_array_add(check->wrong, g_strdup_printf("%s: %s", check->path, what));
}

static JsonNode *member(JsonObject *object, const char *key)
{
  return json_object_has_member(object, key) ? json_object_get_member(object, key) : NULL;
}

/* A member's text; "" where there is none. */
static const char *text_member(JsonObject *object, const char *key)
{
  JsonNode *node = member(object, key);
  return node && JSON_NODE_HOLDS_VALUE(node) && json_node_get_value_type(node) == G_TYPE_STRING
             ? json_node_get_string(node)
             : "";
}

static gboolean is_number(JsonNode *node)
{
  return node && JSON_NODE_HOLDS_VALUE(node) &&
         (json_node_get_value_type(node) == G_TYPE_INT64 || json_node_get_value_type(node) == G_TYPE_DOUBLE);
}

static gboolean read_triple(JsonObject *object, const char *key, double value[3])
{
  JsonNode *node = member(object, key);
  JsonArray *array = node && JSON_NODE_HOLDS_ARRAY(node) ? json_node_get_array(node) : NULL;

  if (!array || json_array_get_length(array) != 3)
    return FALSE;
  for (guint i = 0; i < 3; i++) {
    if (!is_number(json_array_get_element(array, i)))
      return FALSE;
    value[i] = json_array_get_double_element(array, i);
  }
  return TRUE;
}

static void check_section(const TableCheck *check, JsonNode *node, const char *place)
{
  CwCoefficients c;

  if (!JSON_NODE_HOLDS_OBJECT(node)) {
    note(check, "%s: a section was expected", place);
    return;
  }
  if (!read_triple(json_node_get_object(node), "b", c.b) ||
      !read_triple(json_node_get_object(node), "a", c.a) || c.a[0] != 1) {
    note(check, "%s: b of three numbers and a of [1, a1, a2] were expected", place);
    return;
  }
  c.a[1] *= check->a_sign;
  c.a[2] *= check->a_sign;
  if (!(cw_coefficients_pole_radius(&c) < 1))
    note(check, "%s: the section is unstable", place);
}

static void check_channels(const TableCheck *check, JsonObject *root, const char *list, const char *key)
{
  JsonNode *node = member(root, list);
  JsonArray *channels = node && JSON_NODE_HOLDS_ARRAY(node) ? json_node_get_array(node) : NULL;
  g_autoptr(GHashTable) seen = g_hash_table_new(NULL, NULL);

  if (!channels) {
    note(check, "%s: a list was expected", list);
    return;
  }
  for (guint i = 0; i < json_array_get_length(channels); i++) {
    JsonNode *item = json_array_get_element(channels, i);
    JsonObject *channel = JSON_NODE_HOLDS_OBJECT(item) ? json_node_get_object(item) : NULL;
    JsonNode *number = channel ? member(channel, key) : NULL,
             *sections = channel ? member(channel, "sections") : NULL;
    if (!is_number(number) || !is_number(member(channel, "gain_db")) ||
        !is_number(member(channel, "delay_samples"))) {
      note(check, "%s[%u]: %s, gain_db and delay_samples were expected as numbers", list, i, key);
      continue;
    }
    if (!g_hash_table_add(seen, GINT_TO_POINTER((int)json_node_get_int(number))))
      note(check, "%s[%u].%s: %d is there twice", list, i, key, (int)json_node_get_int(number));
    if (!sections || !JSON_NODE_HOLDS_ARRAY(sections)) {
      note(check, "%s[%u].sections: a list was expected", list, i);
      continue;
    }
    for (guint k = 0; k < json_array_get_length(json_node_get_array(sections)); k++) {
      g_autofree char *place = g_strdup_printf("%s[%u].sections[%u]", list, i, k);
      check_section(check, json_array_get_element(json_node_get_array(sections), k), place);
    }
  }
}

static void check_table(const char *path, const char *text, gsize length, GPtrArray *wrong)
{
  TableCheck check = {path, wrong, 1};
  g_autoptr(JsonParser) parser = json_parser_new();
  g_autoptr(GError) error = NULL;
  const char *sign;

  if (length < 2 ||
      !memchr(" \t\r\n{[\xef", text[0], 7)) { /* rows, C or text: they lack what tells right from wrong */
    note(&check, "neither a project file nor a coefficient table as JSON (table --format json), which is the "
                 "form that "
                 "can be checked");
    return;
  }
  g_autofree char *strict =
      cw_json_compact(text, (gssize)length, &error); /* json-glib takes what is not JSON */
  if (!strict || !json_parser_load_from_data(parser, text, (gssize)length, &error)) {
    note(&check, "%s", error->message);
    return;
  }
  JsonNode *root = json_parser_get_root(parser);
  JsonObject *object = root && JSON_NODE_HOLDS_OBJECT(root) ? json_node_get_object(root) : NULL;
  if (!object || !g_str_equal(text_member(object, "format"), "cabinwright-table")) {
    note(&check, "neither a project file nor a coefficient table");
    return;
  }
  if (!is_number(member(object, "sample_rate_hz")) ||
      !(json_object_get_double_member(object, "sample_rate_hz") > 0))
    note(&check, "sample_rate_hz: a number above 0 was expected");
  sign = text_member(object, "a_sign");
  if (!g_str_equal(sign, "minus") && !g_str_equal(sign, "plus"))
    note(&check, "a_sign: minus or plus was expected");
  check.a_sign = g_str_equal(sign, "plus") ? -1 : 1;
  check_channels(&check, object, "outputs", "output");
  check_channels(&check, object, "inputs", "input");
}

gboolean cw_job_check_file(const char *path, GPtrArray *wrong)
{
  guint before = wrong->len;
  g_autoptr(GError) error = NULL;
  g_autoptr(GMappedFile) map =
      cw_input_is_plain(path, &error) ? g_mapped_file_new(path, FALSE, &error) : NULL;

  if (!map) {
    g_ptr_array_add(wrong, g_strdup(error->message));
    return FALSE;
  }
  const char *bytes = g_mapped_file_get_contents(map);
  gsize length = g_mapped_file_get_length(map);
  if (length >= 16 && memcmp(bytes, "SQLite format 3", 16) == 0)
    cw_project_check(path, wrong);
  else if (length == 0 || length > CW_SCAN_MOST_BYTES)
    g_ptr_array_add(wrong, g_strdup_printf("%s: neither a project file nor a coefficient table", path));
  else
    check_table(path, bytes, length, wrong);
  return wrong->len == before;
}
