/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Objects and arrays of a text that is being read: in, on and out again. */
#include "vehicle/json/json_scan_private.h"

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

gboolean cw_scan_begin_object(CwScan *scan)
{
  if (cw_scan_next(scan) != '{') {
    cw_scan_fail_wanted(scan, "an object");
    return FALSE;
  }
  return push(scan, FALSE);
}

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
