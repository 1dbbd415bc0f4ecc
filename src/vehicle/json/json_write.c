/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/json_write.h"

#include "vehicle/record/field.h"
#include <math.h>

void cw_append_json_text(GString *json, const char *text)
{
  g_string_append_c(json, '"');
  for (const char *c = text; *c; c++) {
    if (*c == '"' || *c == '\\') {
      g_string_append_c(json, '\\');
      g_string_append_c(json, *c);
    } else if (*c == '\n') {
      g_string_append(json, "\\n");
    } else if (*c == '\t') {
      g_string_append(json, "\\t");
    } else if ((guchar)*c < 0x20 || *c == 0x7f) {
      g_string_append_printf(json, "\\u%04x", (guint)*c);
    } else if ((guchar)*c == 0xc2 && (guchar)c[1] >= 0x80 && (guchar)c[1] < 0xa0) {
      g_string_append_printf(json, "\\u%04x", (guint)(guchar) * ++c); /* a terminal would obey these too */
    } else {
      g_string_append_c(json, *c);
    }
  }
  g_string_append_c(json, '"');
}

void cw_append_json_number(GString *json, double value)
{
  if (isfinite(value))
    cw_append_number(json, value);
  else
    g_string_append(json, "null");
}

void cw_append_json_truth(GString *json, gboolean truth)
{
  g_string_append(json, truth ? "true" : "false");
}

void cw_append_json_key(GString *json, const char *key)
{
  if (json->len && json->str[json->len - 1] != '{')
    g_string_append_c(json, ',');
  cw_append_json_text(json, key);
  g_string_append_c(json, ':');
}

void cw_append_json_member(GString *json, const char *key, double value)
{
  cw_append_json_key(json, key);
  cw_append_json_number(json, value);
}

void cw_append_json_text_member(GString *json, const char *key, const char *text)
{
  cw_append_json_key(json, key);
  cw_append_json_text(json, text);
}

void cw_append_json_truth_member(GString *json, const char *key, gboolean truth)
{
  cw_append_json_key(json, key);
  cw_append_json_truth(json, truth);
}
