/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json_scan.h"
#include "vehicle/field.h"

#include <math.h>
#include <string.h>

/* One object or array that is being read. */
typedef struct {
  GString *key; /* of the member at hand */
  gint64 index; /* of the item at hand, -1 before the first */
  gboolean is_array, begun;
} Level;

struct _CwScan {
  const char *text, *at, *end;
  Level levels[CW_SCAN_MOST_LEVELS];
  guint n_levels;
  GError *error;
};

/* --- faults
 * ------------------------------------------------------------------------------------------------------ */

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

static void fail_syntax(CwScan *scan, const char *at, const char *what)
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

/* --- begin and end
 * ------------------------------------------------------------------------------------------------ */

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
    fail_syntax(scan, wrong, *wrong ? "this is not UTF-8" : "a NUL byte is not allowed here");
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
static char next(CwScan *scan)
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
  if (next(scan))
    fail_syntax(scan, scan->at, "something follows the end of the value");
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

/* --- values
 * ------------------------------------------------------------------------------------------------------- */

/* What kind of value is next, for messages. */
const char *cw_scan_what_follows(CwScan *scan)
{
  char c = next(scan);
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

static gboolean pass_word(CwScan *scan, const char *word)
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
  return next(scan) == 'n' && pass_word(scan, "null");
}

/* A wrong value: of another type than wanted, or not JSON at all. */
static void fail_wanted(CwScan *scan, const char *wanted)
{
  if (scan->error)
    return;
  const char *found = cw_scan_what_follows(scan);
  if (scan->at >= scan->end)
    fail_syntax(scan, scan->at, "the text ends in the middle");
  else if (g_str_equal(found, "no JSON"))
    fail_syntax(scan, scan->at, "a value was expected here");
  else {
    g_autofree char *what = g_strdup_printf("%s was expected, not %s", wanted, found);
    fail_value(scan, NULL, what);
  }
}

static gboolean push(CwScan *scan, gboolean is_array)
{
  if (scan->n_levels == CW_SCAN_MOST_LEVELS) {
    fail_syntax(scan, scan->at, "more than 64 levels deep");
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
  if (next(scan) != '{') {
    fail_wanted(scan, "an object");
    return FALSE;
  }
  return push(scan, FALSE);
}

/* Enters a list, the next value; FALSE on a fault. */
gboolean cw_scan_begin_array(CwScan *scan)
{
  if (next(scan) != '[') {
    fail_wanted(scan, "a list");
    return FALSE;
  }
  return push(scan, TRUE);
}

/* Passes the comma or the closing bracket of the innermost level: TRUE if another value is to follow. */
static gboolean another(CwScan *scan, char closing)
{
  Level *level = &scan->levels[scan->n_levels - 1];
  char c = next(scan);
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
  fail_syntax(scan, scan->at,
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

/* Four hexadecimal digits after \u; -1 on a fault. */
static int scan_code_unit(CwScan *scan)
{
  int unit = 0;
  for (int i = 0; i < 4; i++, scan->at++) {
    int digit = scan->at < scan->end ? g_ascii_xdigit_value(*scan->at) : -1;
    if (digit < 0) {
      fail_syntax(scan, scan->at, "four hexadecimal digits were expected after \\u");
      return -1;
    }
    unit = unit * 16 + digit;
  }
  return unit;
}

/* What follows \u: one character, or a pair of surrogates. */
static void scan_escaped_unit(CwScan *scan, GString *into)
{
  const char *start = scan->at - 2;
  int unit = scan_code_unit(scan);
  if (unit < 0)
    return;
  if (unit == 0) {
    fail_syntax(scan, start, "\\u0000 is not taken");
    return;
  }
  if (unit >= 0xd800 && unit < 0xdc00) {
    int low = pass_word(scan, "\\u") ? scan_code_unit(scan) : 0;
    if (low < 0xdc00 || low > 0xdfff) {
      fail_syntax(scan, start, "half a surrogate pair");
      return;
    }
    unit = 0x10000 + ((unit - 0xd800) << 10) + (low - 0xdc00);
  } else if (unit >= 0xdc00 && unit < 0xe000) {
    fail_syntax(scan, start, "half a surrogate pair");
    return;
  }
  g_string_append_unichar(into, (gunichar)unit);
}

static void scan_escape(CwScan *scan, GString *into)
{
  static const char letters[] = "\"\\/bfnrt", meanings[] = "\"\\/\b\f\n\r\t";
  char letter = scan->at + 1 < scan->end ? scan->at[1] : 0;
  const char *known = letter ? strchr(letters, letter) : NULL;
  if (!known && letter != 'u') {
    fail_syntax(scan, scan->at, "no such escape");
    return;
  }
  scan->at += 2;
  if (known)
    g_string_append_c(into, meanings[known - letters]);
  else
    scan_escaped_unit(scan, into);
}

/* Reads a text, from its opening quote to its closing one, into a string. */
static void scan_string(CwScan *scan, GString *into)
{
  g_string_truncate(into, 0);
  scan->at++;
  while (!scan->error) {
    const char *start = scan->at;
    while (scan->at < scan->end && *scan->at != '"' && *scan->at != '\\' && (guchar)*scan->at >= 0x20)
      scan->at++;
    g_string_append_len(into, start, scan->at - start);
    if (scan->at >= scan->end) {
      fail_syntax(scan, scan->at, "the text ends in the middle");
    } else if (*scan->at == '"') {
      scan->at++;
      return;
    } else if (*scan->at == '\\') {
      scan_escape(scan, into);
    } else {
      fail_syntax(scan, scan->at, "a control character must be escaped");
    }
  }
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
  if (next(scan) != '"') {
    fail_syntax(scan, scan->at,
                scan->at >= scan->end ? "the text ends in the middle" : "a key in quotes was expected here");
    return NULL;
  }
  if (!level->key)
    level->key = g_string_new(NULL);
  scan_string(scan, level->key);
  level->begun = TRUE;
  if (!scan->error && next(scan) != ':')
    fail_syntax(scan, scan->at, "a colon was expected here");
  if (scan->error)
    return NULL;
  scan->at++;
  return level->key->str;
}

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
    fail_syntax(scan, start, "this is not written as JSON writes a number");
    return 0;
  }
  scan->at = at;
  return (gsize)(at - start);
}

static gboolean number_follows(CwScan *scan, const char *wanted)
{
  char c = next(scan);
  if (c == '-' || g_ascii_isdigit(c))
    return TRUE;
  fail_wanted(scan, wanted);
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

/* The next value, a number; 0 on a fault. */
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
  fail_syntax(scan, token, "this number is too large");
  return 0;
}

/* The next value, a whole number (1.0 and 1e3 are such too); 0 on a fault. */
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
    fail_syntax(scan, token, "this whole number is too large");
    return 0;
  }
  double value = token_value(token, length);
  if (!isfinite(value) || fabs(value) > 9e15) {
    fail_syntax(scan, token, "this whole number is too large");
    return 0;
  }
  if (value != floor(value)) {
    cw_scan_fail(scan, "%s is not a whole number", copy);
    return 0;
  }
  return (gint64)value;
}

/* The next value, true or false. */
gboolean cw_scan_truth(CwScan *scan)
{
  char c = next(scan);
  if (c == 't' && pass_word(scan, "true"))
    return TRUE;
  if (c == 'f' && pass_word(scan, "false"))
    return FALSE;
  if (c == 't' || c == 'f')
    fail_syntax(scan, scan->at, "a value was expected here");
  else
    fail_wanted(scan, "true or false");
  return FALSE;
}

/* The next value, a text; the caller frees it; NULL on a fault. */
char *cw_scan_text(CwScan *scan)
{
  if (next(scan) != '"') {
    fail_wanted(scan, "a text");
    return NULL;
  }
  GString *text = g_string_new(NULL);
  scan_string(scan, text);
  return g_string_free(text, scan->error != NULL);
}

/* --- any value
 * ---------------------------------------------------------------------------------------------------- */

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

/* Passes the next value, whatever it is, by the same rules, and adds it to compact without white space.
 * Numbers keep the digits that they have. */
void cw_scan_anything(CwScan *scan, GString *compact)
{
  const char *start;
  switch (next(scan)) {
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
      fail_syntax(scan, scan->at, "a value was expected here");
    return;
  default:
    start = scan->at;
    cw_scan_number(scan);
    if (!scan->error)
      g_string_append_len(compact, start, scan->at - start);
    return;
  }
}
