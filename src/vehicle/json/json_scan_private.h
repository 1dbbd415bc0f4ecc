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

void cw_scan_fail_syntax(CwScan *scan, const char *at, const char *what);
void cw_scan_fail_wanted(CwScan *scan, const char *wanted);
char cw_scan_next(CwScan *scan);
gboolean cw_scan_pass_word(CwScan *scan, const char *word);
void cw_scan_pass_text(CwScan *scan, GString *into);

G_END_DECLS
