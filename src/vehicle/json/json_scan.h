/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/* Reads JSON strictly (RFC 8259), value by value, without building a tree. The first fault ends the reading:
 * what follows returns nothing, and cw_scan_finish() says what it was. Taken: UTF-8, up to 64 MiB, 64 levels
 * deep; a byte-order mark in front is passed over. Refused: numbers that a double cannot hold, whole numbers
 * beyond 64 bits where whole numbers are asked for, a key twice in one object, \u0000, half a surrogate pair.
 */
typedef struct _CwScan CwScan;

#define CW_SCAN_MOST_BYTES (64u * 1024 * 1024)
#define CW_SCAN_MOST_LEVELS 64

CwScan *cw_scan_new(const char *text, gssize length);
gboolean cw_scan_finish(CwScan *scan, GError **error);
gboolean cw_scan_failed(CwScan *scan);
void cw_scan_fail(CwScan *scan, const char *format, ...) G_GNUC_PRINTF(2, 3);
void cw_scan_fail_inside(CwScan *scan, const char *key, const char *format, ...) G_GNUC_PRINTF(3, 4);

const char *cw_scan_what_follows(CwScan *scan);
gboolean cw_scan_null(CwScan *scan);
gboolean cw_scan_begin_object(CwScan *scan);
const char *cw_scan_next_key(CwScan *scan);
gboolean cw_scan_begin_array(CwScan *scan);
gboolean cw_scan_next_item(CwScan *scan);
double cw_scan_number(CwScan *scan);
gint64 cw_scan_integer(CwScan *scan);
gboolean cw_scan_truth(CwScan *scan);
char *cw_scan_text(CwScan *scan);
void cw_scan_anything(CwScan *scan, GString *compact);
char *cw_json_compact(const char *json, gssize length, GError **error);

G_END_DECLS
