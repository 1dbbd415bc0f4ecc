/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json_write.h"

#include "vehicle/field.h"
#include <math.h>

/* Adds a text as JSON, in quotes. */
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
    } else if ((guchar)*c < 0x20) {
      g_string_append_printf(json, "\\u%04x", (guint)*c);
    } else {
      g_string_append_c(json, *c);
    }
  }
  g_string_append_c(json, '"');
}

/* Adds a number as JSON, with the fewest digits that read back as the same double; what is not known (NaN) is
 * null. */
void cw_append_json_number(GString *json, double value)
{
  if (isnan(value))
    g_string_append(json, "null");
  else
    cw_append_number(json, value);
}
