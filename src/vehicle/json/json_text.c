/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/json_scan_private.h"

#include <string.h>

/* Four hexadecimal digits after \u; -1 on a fault. */
static int scan_code_unit(CwScan *scan)
{
  int unit = 0;
  for (int i = 0; i < 4; i++, scan->at++) {
    int digit = scan->at < scan->end ? g_ascii_xdigit_value(*scan->at) : -1;
    if (digit < 0) {
      cw_scan_fail_syntax(scan, scan->at, "four hexadecimal digits were expected after \\u");
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
    cw_scan_fail_syntax(scan, start, "\\u0000 is not taken");
    return;
  }
  if (unit >= 0xd800 && unit < 0xdc00) {
    int low = cw_scan_pass_word(scan, "\\u") ? scan_code_unit(scan) : 0;
    if (low < 0xdc00 || low > 0xdfff) {
      cw_scan_fail_syntax(scan, start, "half a surrogate pair");
      return;
    }
    unit = 0x10000 + ((unit - 0xd800) << 10) + (low - 0xdc00);
  } else if (unit >= 0xdc00 && unit < 0xe000) {
    cw_scan_fail_syntax(scan, start, "half a surrogate pair");
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
    cw_scan_fail_syntax(scan, scan->at, "no such escape");
    return;
  }
  scan->at += 2;
  if (known)
    g_string_append_c(into, meanings[known - letters]);
  else
    scan_escaped_unit(scan, into);
}

void cw_scan_pass_text(CwScan *scan, GString *into)
{
  g_string_truncate(into, 0);
  scan->at++;
  while (!scan->error) {
    const char *start = scan->at;
    while (scan->at < scan->end && *scan->at != '"' && *scan->at != '\\' && (guchar)*scan->at >= 0x20)
      scan->at++;
    g_string_append_len(into, start, scan->at - start);
    if (scan->at >= scan->end) {
      cw_scan_fail_syntax(scan, scan->at, "the text ends in the middle");
    } else if (*scan->at == '"') {
      scan->at++;
      return;
    } else if (*scan->at == '\\') {
      scan_escape(scan, into);
    } else {
      cw_scan_fail_syntax(scan, scan->at, "a control character must be escaped");
    }
  }
}

char *cw_scan_text(CwScan *scan)
{
  if (cw_scan_next(scan) != '"') {
    cw_scan_fail_wanted(scan, "a text");
    return NULL;
  }
  GString *text = g_string_new(NULL);
  cw_scan_pass_text(scan, text);
  return g_string_free(text, scan->error != NULL);
}
