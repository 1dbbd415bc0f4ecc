/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/json_scan_private.h"
#include "vehicle/record/field.h"

#include <math.h>
#include <string.h>

/* --- faults --- */

/* The place of the value at hand: "speakers[2].lowest_hz". */
static char *say_place(CwScan *scan)
{
  GString *place = g_string_new(NULL);
  for (guint i = 0; i < scan->n_levels; i++) {
    const Level *level = &scan->levels[i];
    if (!level->begun)
      break;
    if (level->is_array)
      g_string_append_printf(place, "[%" G_GINT64_FORMAT "]", level->index);
    else
      g_string_append_printf(place, "%s%s", place->len ? "." : "", level->key->str);
  }
  if (place->len > 200) { /* a key can be as long as the file */
    g_string_truncate(
        place, (gsize)(g_utf8_offset_to_pointer(place->str, g_utf8_strlen(place->str, 190)) - place->str));
    g_string_append(place, "...");
  }
  return g_string_free(place, FALSE);
}

void cw_scan_fail_syntax(CwScan *scan, const char *at, const char *what)
{
  if (scan->error)
    return;
  glong line = 1;
  const char *start = scan->text;
  for (const char *c = scan->text; c < at; c++)
    if (*c == '\n') {
      line++;
      start = c + 1;
    }
  g_autofree char *place = say_place(scan);
  g_set_error(&scan->error, CW_RECORD_ERROR, CW_RECORD_ERROR_SYNTAX, "line %ld, column %ld%s%s%s: %s", line,
              g_utf8_strlen(start, at - start) + 1, *place ? " (" : "", place, *place ? ")" : "", what);
}

static void fail_value(CwScan *scan, const char *key, const char *what)
{
  if (scan->error)
    return;
  g_autofree char *place = say_place(scan);
  GString *full = g_string_new(place);
  if (key)
    g_string_append_printf(full, "%s%s", full->len ? "." : "", key);
  g_set_error(&scan->error, CW_RECORD_ERROR, CW_RECORD_ERROR_VALUE, "%s%s%s", full->str,
              full->len ? ": " : "", what);
  g_string_free(full, TRUE);
}

void cw_scan_fail(CwScan *scan, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  fail_value(scan, NULL, what);
}

void cw_scan_fail_inside(CwScan *scan, const char *key, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  fail_value(scan, key, what);
}

/* --- begin and end --- */

CwScan *cw_scan_new(const char *text, gssize length)
{
  CwScan *scan = g_new0(CwScan, 1);
  gsize bytes = length < 0 ? strlen(text) : (gsize)length;
  const char *wrong = NULL;
  scan->text = scan->at = text;
  scan->end = text + bytes;
  if (bytes > CW_SCAN_MOST_BYTES)
    g_set_error(&scan->error, CW_RECORD_ERROR, CW_RECORD_ERROR_SYNTAX,
                "%" G_GSIZE_FORMAT " bytes are more than the %u taken", bytes, CW_SCAN_MOST_BYTES);
  else if (!g_utf8_validate_len(text, bytes, &wrong))
    cw_scan_fail_syntax(scan, wrong, *wrong ? "this is not UTF-8" : "a NUL byte is not allowed here");
  else if (bytes >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0)
    scan->text = scan->at = text + 3;
  return scan;
}

static void pass_space(CwScan *scan)
{
  while (scan->at < scan->end &&
         (*scan->at == ' ' || *scan->at == '\t' || *scan->at == '\n' || *scan->at == '\r'))
    scan->at++;
}

char cw_scan_next(CwScan *scan)
{
  if (scan->error)
    return 0;
  pass_space(scan);
  return scan->at < scan->end ? *scan->at : 0;
}

gboolean cw_scan_finish(CwScan *scan, GError **error)
{
  if (cw_scan_next(scan))
    cw_scan_fail_syntax(scan, scan->at, "something follows the end of the value");
  for (guint i = 0; i < CW_SCAN_MOST_LEVELS; i++)
    if (scan->levels[i].key)
      g_string_free(scan->levels[i].key, TRUE);
  gboolean good = scan->error == NULL;
  if (!good)
    g_propagate_error(error, scan->error);
  g_free(scan);
  return good;
}

gboolean cw_scan_failed(CwScan *scan)
{
  return scan->error != NULL;
}

/* --- values --- */

const char *cw_scan_what_follows(CwScan *scan)
{
  char c = cw_scan_next(scan);
  switch (c) {
  case '{':
    return "an object";
  case '[':
    return "a list";
  case '"':
    return "a text";
  case 't':
  case 'f':
    return "true or false";
  case 'n':
    return "null";
  case 0:
    return "the end";
  default:
    return c == '-' || g_ascii_isdigit(c) ? "a number" : "no JSON";
  }
}

gboolean cw_scan_pass_word(CwScan *scan, const char *word)
{
  gsize n = strlen(word);
  if ((gsize)(scan->end - scan->at) < n || memcmp(scan->at, word, n) != 0)
    return FALSE;
  scan->at += n;
  return TRUE;
}

gboolean cw_scan_null(CwScan *scan)
{
  return cw_scan_next(scan) == 'n' && cw_scan_pass_word(scan, "null");
}

void cw_scan_fail_wanted(CwScan *scan, const char *wanted)
{
  if (scan->error)
    return;
  const char *found = cw_scan_what_follows(scan);
  if (scan->at >= scan->end)
    cw_scan_fail_syntax(scan, scan->at, "the text ends in the middle");
  else if (g_str_equal(found, "no JSON"))
    cw_scan_fail_syntax(scan, scan->at, "a value was expected here");
  else {
    g_autofree char *what = g_strdup_printf("%s was expected, not %s", wanted, found);
    fail_value(scan, NULL, what);
  }
}

gboolean cw_scan_truth(CwScan *scan)
{
  char c = cw_scan_next(scan);
  if (c == 't' && cw_scan_pass_word(scan, "true"))
    return TRUE;
  if (c == 'f' && cw_scan_pass_word(scan, "false"))
    return FALSE;
  if (c == 't' || c == 'f')
    cw_scan_fail_syntax(scan, scan->at, "a value was expected here");
  else
    cw_scan_fail_wanted(scan, "true or false");
  return FALSE;
}
