/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/field.h"
#include "vehicle/json_scan_private.h"

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

/* Ends the reading with a fault of the text: its line and column are put in front. */
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

/* Ends the reading with a fault of the value at hand: its place is put in front. */
void cw_scan_fail(CwScan *scan, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  fail_value(scan, NULL, what);
}

/* The same for a member of the value at hand. */
void cw_scan_fail_inside(CwScan *scan, const char *key, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  fail_value(scan, key, what);
}

/* --- begin and end --- */

/* Begins to read a text (length -1: up to its NUL), which must outlive the reading. Faults are told at the
 * end. */
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

/* The next character that is no white space, 0 at the end and after a fault. */
char cw_scan_next(CwScan *scan)
{
  if (scan->error)
    return 0;
  pass_space(scan);
  return scan->at < scan->end ? *scan->at : 0;
}

/* Ends the reading and frees the scan: FALSE, and the first fault, if there was one or if anything is left
 * over. */
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

/* TRUE once there was a fault. */
gboolean cw_scan_failed(CwScan *scan)
{
  return scan->error != NULL;
}

/* --- values --- */

/* What kind of value is next, for messages. */
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

/* Passes a word if it is next. */
gboolean cw_scan_pass_word(CwScan *scan, const char *word)
{
  gsize n = strlen(word);
  if ((gsize)(scan->end - scan->at) < n || memcmp(scan->at, word, n) != 0)
    return FALSE;
  scan->at += n;
  return TRUE;
}

/* TRUE if null is next, which is then passed. */
gboolean cw_scan_null(CwScan *scan)
{
  return cw_scan_next(scan) == 'n' && cw_scan_pass_word(scan, "null");
}

/* A wrong value: of another type than wanted, or not JSON at all. */
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

static gboolean push(CwScan *scan, gboolean is_array)
{
  if (scan->n_levels == CW_SCAN_MOST_LEVELS) {
    cw_scan_fail_syntax(scan, scan->at, "more than 64 levels deep");
    return FALSE;
  }
  Level *level = &scan->levels[scan->n_levels++];
  level->is_array = is_array;
  level->begun = FALSE;
  level->index = -1;
  scan->at++;
  return TRUE;
}

/* Enters an object, the next value; FALSE on a fault. */
gboolean cw_scan_begin_object(CwScan *scan)
{
  if (cw_scan_next(scan) != '{') {
    cw_scan_fail_wanted(scan, "an object");
    return FALSE;
  }
  return push(scan, FALSE);
}

/* Enters a list, the next value; FALSE on a fault. */
gboolean cw_scan_begin_array(CwScan *scan)
{
  if (cw_scan_next(scan) != '[') {
    cw_scan_fail_wanted(scan, "a list");
    return FALSE;
  }
  return push(scan, TRUE);
}

/* Passes the comma or the closing bracket of the innermost level: TRUE if another value is to follow. */
static gboolean another(CwScan *scan, char closing)
{
  Level *level = &scan->levels[scan->n_levels - 1];
  char c = cw_scan_next(scan);
  if (scan->error)
    return FALSE;
  if (c == closing) {
    scan->at++;
    scan->n_levels--;
    return FALSE;
  }
  if (!level->begun)
    return TRUE;
  if (c == ',') {
    scan->at++;
    return TRUE;
  }
  cw_scan_fail_syntax(scan, scan->at,
                      scan->at >= scan->end ? "the text ends in the middle"
                      : closing == ']'      ? "a comma or ] was expected here"
                                            : "a comma or } was expected here");
  return FALSE;
}

/* Goes to the next item of the list: FALSE at its end, which is then passed, and on a fault. */
gboolean cw_scan_next_item(CwScan *scan)
{
  g_return_val_if_fail(scan->error || (scan->n_levels && scan->levels[scan->n_levels - 1].is_array), FALSE);
  if (scan->error || !another(scan, ']'))
    return FALSE;
  Level *level = &scan->levels[scan->n_levels - 1];
  level->begun = TRUE;
  level->index++;
  return TRUE;
}

/* Goes to the next member of the object and returns its key, which stands until the next call at this level:
 * NULL at the object's end, which is then passed, and on a fault. That no key comes twice is for the caller
 * to see to. */
const char *cw_scan_next_key(CwScan *scan)
{
  g_return_val_if_fail(scan->error || (scan->n_levels && !scan->levels[scan->n_levels - 1].is_array), NULL);
  if (scan->error || !another(scan, '}'))
    return NULL;
  Level *level = &scan->levels[scan->n_levels - 1];
  if (cw_scan_next(scan) != '"') {
    cw_scan_fail_syntax(scan, scan->at,
                        scan->at >= scan->end ? "the text ends in the middle"
                                              : "a key in quotes was expected here");
    return NULL;
  }
  if (!level->key)
    level->key = g_string_new(NULL);
  cw_scan_pass_text(scan, level->key);
  level->begun = TRUE;
  if (!scan->error && cw_scan_next(scan) != ':')
    cw_scan_fail_syntax(scan, scan->at, "a colon was expected here");
  if (scan->error)
    return NULL;
  scan->at++;
  return level->key->str;
}

/* The next value, true or false. */
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
