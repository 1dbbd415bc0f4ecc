/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_json.h"
#include "simulator/practice_error.h"

#include <math.h>
#include <string.h>

#define DEPTH_MOST 32

static gboolean is_shallow(const char *text)
{
  guint depth = 0;
  gboolean in_string = FALSE;
  for (const char *at = text; *at; at++) {
    if (in_string) {
      if (*at == '\\' && at[1])
        at++;
      else if (*at == '"')
        in_string = FALSE;
    } else if (*at == '"') {
      in_string = TRUE;
    } else if (*at == '{' || *at == '[') {
      if (++depth > DEPTH_MOST)
        return FALSE;
    } else if ((*at == '}' || *at == ']') && depth > 0) {
      depth--;
    }
  }
  return TRUE;
}

JsonNode *cw_practice_json_parse(const char *text, GError **error)
{
  g_return_val_if_fail(text != NULL, NULL);
  GError *reason = NULL;
  if (strlen(text) > CW_PRACTICE_TEXT_MOST || !is_shallow(text)) {
    g_set_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST,
                "Practice bay: the description is too long or too deep");
    return NULL;
  }
  JsonNode *root = json_from_string(text, &reason);
  if (!root || !JSON_NODE_HOLDS_OBJECT(root)) {
    g_set_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST,
                "Practice bay: expected a JSON object%s%s", reason ? ": " : "",
                reason ? reason->message : "");
    g_clear_error(&reason);
    g_clear_pointer(&root, json_node_unref);
  }
  return root;
}

gboolean cw_practice_json_failed(const CwPracticeJson *json)
{
  return *json->error != NULL;
}

void cw_practice_json_fail(const CwPracticeJson *json, const char *key, const char *expected)
{
  if (!cw_practice_json_failed(json))
    g_set_error(json->error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST,
                "Practice bay: %s%s%s: expected %s", json->path, *json->path && *key ? "." : "", key,
                expected);
}

static gboolean is_number(JsonNode *node)
{
  GType type = JSON_NODE_HOLDS_VALUE(node) ? json_node_get_value_type(node) : G_TYPE_INVALID;
  return type == G_TYPE_INT64 || type == G_TYPE_DOUBLE;
}

static double number_of(const CwPracticeJson *json, const char *key, JsonNode *node, double least,
                        double most)
{
  double value = is_number(node) ? json_node_get_double(node) : NAN;
  if (value >= least && value <= most)
    return value;
  char expected[80];
  g_snprintf(expected, sizeof expected, "a number from %g to %g", least, most);
  cw_practice_json_fail(json, key, expected);
  return least;
}

double cw_practice_json_number(const CwPracticeJson *json, const char *key, double least, double most,
                               double missing)
{
  JsonNode *node = json_object_get_member(json->object, key);
  if (cw_practice_json_failed(json))
    return least;
  if (!node && !isnan(missing))
    return missing;
  if (!node) {
    cw_practice_json_fail(json, key, "a number");
    return least;
  }
  return number_of(json, key, node, least, most);
}

gboolean cw_practice_json_flag(const CwPracticeJson *json, const char *key, gboolean missing)
{
  JsonNode *node = json_object_get_member(json->object, key);
  if (!node)
    return missing;
  if (JSON_NODE_HOLDS_VALUE(node) && json_node_get_value_type(node) == G_TYPE_BOOLEAN)
    return json_node_get_boolean(node);
  cw_practice_json_fail(json, key, "true or false");
  return missing;
}

char *cw_practice_json_text(const CwPracticeJson *json, const char *key, const char *missing)
{
  JsonNode *node = json_object_get_member(json->object, key);
  if (!node && missing)
    return g_strdup(missing);
  if (node && JSON_NODE_HOLDS_VALUE(node) && json_node_get_value_type(node) == G_TYPE_STRING)
    return g_strdup(json_node_get_string(node));
  cw_practice_json_fail(json, key, "a text");
  return g_strdup("");
}

void cw_practice_json_numbers(const CwPracticeJson *json, const char *key, double least, double most,
                              guint count, double *number)
{
  JsonNode *node = json_object_get_member(json->object, key);
  JsonArray *array = node && JSON_NODE_HOLDS_ARRAY(node) ? json_node_get_array(node) : NULL;
  for (guint i = 0; i < count; i++)
    number[i] = least;
  if (!array || json_array_get_length(array) != count) {
    char expected[48];
    g_snprintf(expected, sizeof expected, "%u numbers", count);
    cw_practice_json_fail(json, key, expected);
    return;
  }
  for (guint i = 0; i < count && !cw_practice_json_failed(json); i++)
    number[i] = number_of(json, key, json_array_get_element(array, i), least, most);
}

guint cw_practice_json_each(const CwPracticeJson *json, const char *key, guint most,
                            void (*read)(const CwPracticeJson *item, guint index, gpointer data),
                            gpointer data)
{
  JsonNode *node = json_object_get_member(json->object, key);
  if (!node || cw_practice_json_failed(json))
    return 0;
  JsonArray *array = JSON_NODE_HOLDS_ARRAY(node) ? json_node_get_array(node) : NULL;
  guint count = array ? json_array_get_length(array) : 0;
  if (!array || count > most) {
    char expected[48];
    g_snprintf(expected, sizeof expected, "a list of at most %u", most);
    cw_practice_json_fail(json, key, expected);
    return 0;
  }
  for (guint i = 0; i < count && !cw_practice_json_failed(json); i++) {
    JsonNode *element = json_array_get_element(array, i);
    char *path = g_strdup_printf("%s%s%s[%u]", json->path, *json->path ? "." : "", key, i);
    CwPracticeJson item = {NULL, path, json->error};
    if (JSON_NODE_HOLDS_OBJECT(element)) {
      item.object = json_node_get_object(element);
      read(&item, i, data);
    } else {
      cw_practice_json_fail(&item, "", "an object");
    }
    g_free(path);
  }
  return count;
}

gboolean cw_practice_json_inside(const CwPracticeJson *json, const char *key,
                                 void (*read)(const CwPracticeJson *item, gpointer data), gpointer data)
{
  JsonNode *node = json_object_get_member(json->object, key);
  if (!node || cw_practice_json_failed(json))
    return FALSE;
  if (!JSON_NODE_HOLDS_OBJECT(node)) {
    cw_practice_json_fail(json, key, "an object");
    return FALSE;
  }
  char *path = g_strdup_printf("%s%s%s", json->path, *json->path ? "." : "", key);
  CwPracticeJson item = {json_node_get_object(node), path, json->error};
  read(&item, data);
  g_free(path);
  return TRUE;
}
