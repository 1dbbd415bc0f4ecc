/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/json_scan_private.h"
#include "vehicle/json/json_write.h"

#include <math.h>
#include <string.h>

/* --- numbers --- */

/* Passes a number by the grammar; returns its length, 0 on a fault, and whether it has a point or an
 * exponent. */
static gsize pass_number(CwScan *scan, gboolean *whole)
{
  const char *start = scan->at, *at = start, *end = scan->end, *digits;
  *whole = TRUE;
  if (at < end && *at == '-')
    at++;
  digits = at;
  while (at < end && g_ascii_isdigit(*at))
    at++;
  gboolean good = at > digits && (*digits != '0' || at == digits + 1);
  if (good && at < end && *at == '.') {
    digits = ++at;
    while (at < end && g_ascii_isdigit(*at))
      at++;
    good = at > digits;
    *whole = FALSE;
  }
  if (good && at < end && (*at == 'e' || *at == 'E')) {
    at++;
    if (at < end && (*at == '+' || *at == '-'))
      at++;
    digits = at;
    while (at < end && g_ascii_isdigit(*at))
      at++;
    good = at > digits;
    *whole = FALSE;
  }
  if (!good) {
    cw_scan_fail_syntax(scan, start, "this is not written as JSON writes a number");
    return 0;
  }
  scan->at = at;
  return (gsize)(at - start);
}

static gboolean number_follows(CwScan *scan, const char *wanted)
{
  char c = cw_scan_next(scan);
  if (c == '-' || g_ascii_isdigit(c))
    return TRUE;
  cw_scan_fail_wanted(scan, wanted);
  return FALSE;
}

/* The double that a number token of a length says; its end may be the end of the memory. */
static double token_value(const char *token, gsize length)
{
  char few[64];
  if (length < sizeof few) {
    memcpy(few, token, length);
    few[length] = 0;
    return g_ascii_strtod(few, NULL);
  }
  g_autofree char *many = g_strndup(token, length);
  return g_ascii_strtod(many, NULL);
}

/* A short decimal number exactly: its digits as a whole number below 2^53 and a power of ten up to 22 are
 * both exact as doubles, so that one division is rounded once (Clinger 1990). FALSE if the number is not of
 * that kind. */
static gboolean short_value(const char *token, const char *end, double *value)
{
  static const double powers[] = {1,    1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                  1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
  gint64 digits = 0;
  int n_decimals = 0;
  gboolean in_decimals = FALSE;
  for (const char *c = token + (*token == '-'); c < end; c++) {
    if (*c == '.') {
      in_decimals = TRUE;
      continue;
    }
    if (!g_ascii_isdigit(*c))
      return FALSE;
    digits = digits * 10 + (*c - '0');
    n_decimals += in_decimals;
    if (digits >= (gint64)1 << 53 || n_decimals > 22)
      return FALSE;
  }
  double magnitude = (double)digits / powers[n_decimals];
  *value = *token == '-' ? -magnitude : magnitude;
  return TRUE;
}

double cw_scan_number(CwScan *scan)
{
  gboolean whole;
  double value;
  if (!number_follows(scan, "a number"))
    return 0;
  const char *token = scan->at;
  gsize length = pass_number(scan, &whole);
  if (!length)
    return 0;
  if (short_value(token, scan->at, &value))
    return value;
  value = token_value(token, length);
  if (isfinite(value))
    return value;
  cw_scan_fail_syntax(scan, token, "this number is too large");
  return 0;
}

gint64 cw_scan_integer(CwScan *scan)
{
  gboolean whole;
  if (!number_follows(scan, "a whole number"))
    return 0;
  const char *token = scan->at;
  gsize length = pass_number(scan, &whole);
  if (!length)
    return 0;
  g_autofree char *copy = g_strndup(token, MIN(length, 400));
  gint64 exact = 0;
  if (whole) {
    if (g_ascii_string_to_signed(copy, 10, G_MININT64 + 1, G_MAXINT64, &exact, NULL))
      return exact;
    cw_scan_fail_syntax(scan, token, "this whole number is too large");
    return 0;
  }
  double value = token_value(token, length);
  if (!isfinite(value) || fabs(value) > 9e15) {
    cw_scan_fail_syntax(scan, token, "this whole number is too large");
    return 0;
  }
  if (value != floor(value)) {
    cw_scan_fail(scan, "%s is not a whole number", copy);
    return 0;
  }
  return (gint64)value;
}

/* --- any value --- */

static void pass_object(CwScan *scan, GString *compact)
{
  g_autoptr(GHashTable) seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  const char *key;
  if (!cw_scan_begin_object(scan))
    return;
  g_string_append_c(compact, '{');
  for (guint n = 0; (key = cw_scan_next_key(scan)); n++) {
    if (!g_hash_table_add(seen, g_strdup(key)))
      cw_scan_fail(scan, "this key is there twice");
    g_string_append(compact, n ? "," : "");
    cw_append_json_text(compact, key);
    g_string_append_c(compact, ':');
    cw_scan_anything(scan, compact);
  }
  g_string_append_c(compact, '}');
}

static void pass_array(CwScan *scan, GString *compact)
{
  if (!cw_scan_begin_array(scan))
    return;
  g_string_append_c(compact, '[');
  for (guint n = 0; cw_scan_next_item(scan); n++) {
    g_string_append(compact, n ? "," : "");
    cw_scan_anything(scan, compact);
  }
  g_string_append_c(compact, ']');
}

void cw_scan_anything(CwScan *scan, GString *compact)
{
  const char *start;
  switch (cw_scan_next(scan)) {
  case '{':
    pass_object(scan, compact);
    return;
  case '[':
    pass_array(scan, compact);
    return;
  case '"': {
    g_autofree char *text = cw_scan_text(scan);
    if (text)
      cw_append_json_text(compact, text);
    return;
  }
  case 't':
  case 'f':
    g_string_append(compact, cw_scan_truth(scan) ? "true" : "false");
    return;
  case 'n':
    if (cw_scan_null(scan))
      g_string_append(compact, "null");
    else
      cw_scan_fail_syntax(scan, scan->at, "a value was expected here");
    return;
  default:
    start = scan->at;
    cw_scan_number(scan);
    if (!scan->error)
      g_string_append_len(compact, start, scan->at - start);
    return;
  }
}

char *cw_json_compact(const char *json, gssize length, GError **error)
{
  CwScan *scan = cw_scan_new(json, length);
  g_autoptr(GString) compact = g_string_new(NULL);
  cw_scan_anything(scan, compact);
  if (!cw_scan_finish(scan, error))
    return NULL;
  return g_strdup(compact->str);
}
