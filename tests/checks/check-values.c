/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include <json-glib/json-glib.h>
#include <stdlib.h>
#include <string.h>

static JsonObject *entry_of(const char *id)
{
  static GHashTable *entries;

  if (!entries) {
    GError *error = NULL;
    JsonParser *parser = json_parser_new_immutable();
    if (!json_parser_load_from_file(parser, CHECKS_FILE, &error))
      g_error("%s: %s", CHECKS_FILE, error->message);
    entries = g_hash_table_new(g_str_hash, g_str_equal);
    JsonArray *all = json_node_get_array(json_parser_get_root(parser));
    for (guint i = 0; i < json_array_get_length(all); i++) {
      JsonObject *entry = json_object_ref(json_array_get_object_element(all, i));
      g_hash_table_insert(entries, (char *)json_object_get_string_member(entry, "id"), entry);
    }
    g_object_unref(parser);
  }
  JsonObject *entry = g_hash_table_lookup(entries, id);
  if (!entry)
    g_error("no check value '%s'", id);
  return entry;
}

static double number_of(const char *id, JsonNode *node)
{
  if (JSON_NODE_HOLDS_NULL(node))
    return NAN;
  if (!JSON_NODE_HOLDS_VALUE(node))
    g_error("check value '%s': a number was expected", id);
  if (json_node_get_value_type(node) == G_TYPE_STRING) {
    const char *text = json_node_get_string(node);
    char *end;
    double number = g_ascii_strtod(text, &end);
    if (end == text || *end)
      g_error("check value '%s': '%s' is no number", id, text);
    return number;
  }
  return json_node_get_double(node);
}

static JsonNode *item_of(const char *id, JsonNode *node, guint index)
{
  if (!JSON_NODE_HOLDS_ARRAY(node) || index >= json_array_get_length(json_node_get_array(node)))
    g_error("check value '%s': no item %u", id, index);
  return json_array_get_element(json_node_get_array(node), index);
}

static JsonNode *go_down(const char *id, JsonNode *node, const char *key)
{
  if (!key)
    return node;
  /* A key may itself hold a dot ("0.25"): the whole is tried first. */
  if (JSON_NODE_HOLDS_OBJECT(node) && json_object_has_member(json_node_get_object(node), key))
    return json_object_get_member(json_node_get_object(node), key);

  const char *dot = strchr(key, '.');
  char *first = dot ? g_strndup(key, (gsize)(dot - key)) : g_strdup(key);
  JsonNode *below = NULL;
  if (JSON_NODE_HOLDS_ARRAY(node))
    below = item_of(id, node, (guint)atoi(first));
  else if (JSON_NODE_HOLDS_OBJECT(node))
    below = json_object_get_member(json_node_get_object(node), first);
  if (!below)
    g_error("check value '%s': no '%s'", id, key);
  g_free(first);
  return go_down(id, below, dot ? dot + 1 : NULL);
}

static JsonNode *values_of(const char *id)
{
  return json_object_get_member(entry_of(id), "values");
}

double check_number(const char *id, const char *key)
{
  return number_of(id, go_down(id, values_of(id), key));
}

static JsonNode *rows_of(const char *id)
{
  JsonNode *values = values_of(id);
  return JSON_NODE_HOLDS_OBJECT(values) ? go_down(id, values, "rows") : values;
}

size_t check_rows(const char *id)
{
  return json_array_get_length(json_node_get_array(rows_of(id)));
}

static JsonNode *cell_of(const char *id, size_t row, const char *column)
{
  JsonArray *columns = json_node_get_array(go_down(id, values_of(id), "columns"));
  guint index = 0;

  while (index < json_array_get_length(columns) &&
         strcmp(json_array_get_string_element(columns, index), column) != 0)
    index++;
  if (index == json_array_get_length(columns))
    g_error("check value '%s': no column '%s'", id, column);
  return item_of(id, item_of(id, rows_of(id), (guint)row), index);
}

double check_cell(const char *id, size_t row, const char *column)
{
  return number_of(id, cell_of(id, row, column));
}

double check_cell_at(const char *id, size_t row, size_t place)
{
  return number_of(id, item_of(id, item_of(id, rows_of(id), (guint)row), (guint)place));
}

const char *check_text(const char *id, size_t row, const char *column)
{
  const char *text = json_node_get_string(cell_of(id, row, column));
  if (!text)
    g_error("check value '%s': row %zu, '%s' is no text", id, row, column);
  return text;
}

gboolean check_flag(const char *id, size_t row, const char *column)
{
  JsonNode *cell = cell_of(id, row, column);
  if (json_node_get_value_type(cell) != G_TYPE_BOOLEAN)
    g_error("check value '%s': row %zu, '%s' is neither true nor false", id, row, column);
  return json_node_get_boolean(cell);
}

size_t check_cell_items(const char *id, size_t row, const char *column)
{
  return json_array_get_length(json_node_get_array(cell_of(id, row, column)));
}

double check_cell_item(const char *id, size_t row, const char *column, size_t item)
{
  return number_of(id, item_of(id, cell_of(id, row, column), (guint)item));
}

double check_tolerance(const char *id, const char *key)
{
  return number_of(id, go_down(id, json_object_get_member(entry_of(id), "tolerance"), key));
}

void check_near_at(const char *file, int line, const char *function, const char *id, double got,
                   double wanted, double tolerance)
{
  if ((isinf(wanted) && got == wanted) || fabs(got - wanted) <= tolerance)
    return;
  char *message =
      g_strdup_printf("%s: got %.17g, wanted %.17g within %.3g, off by %.3g (source: %s)", id, got, wanted,
                      tolerance, got - wanted, json_object_get_string_member(entry_of(id), "source"));
  g_assertion_message(G_LOG_DOMAIN, file, line, function, message);
}

void check_below_at(const char *file, int line, const char *function, const char *what, double got,
                    double bound)
{
  if (got <= bound)
    return;
  char *message = g_strdup_printf("%s: %.6g, at most %.6g", what, got, bound);
  g_assertion_message(G_LOG_DOMAIN, file, line, function, message);
}
