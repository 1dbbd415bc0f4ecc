/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/json/json_scan.h"

G_BEGIN_DECLS

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

/* Ends the reading with a fault of the text: its line and column are put in front. */
void cw_scan_fail_syntax(CwScan *scan, const char *at, const char *what);

/* A wrong value: of another type than wanted, or not JSON at all. */
void cw_scan_fail_wanted(CwScan *scan, const char *wanted);

/* The next character that is no white space, 0 at the end and after a fault. */
char cw_scan_next(CwScan *scan);

/* Passes a word if it is next. */
gboolean cw_scan_pass_word(CwScan *scan, const char *word);

/* Reads a text, from its opening quote to its closing one, into a string. */
void cw_scan_pass_text(CwScan *scan, GString *into);

G_END_DECLS
