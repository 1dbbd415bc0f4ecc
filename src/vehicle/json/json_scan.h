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

/* Begins to read a text (length -1: up to its NUL), which must outlive the reading. Faults are told at the
 * end. */
CwScan *cw_scan_new(const char *text, gssize length);

/* Ends the reading and frees the scan: FALSE, and the first fault, if there was one or if anything is left
 * over. */
gboolean cw_scan_finish(CwScan *scan, GError **error);

/* TRUE once there was a fault. */
gboolean cw_scan_failed(CwScan *scan);

/* Ends the reading with a fault of the value at hand: its place is put in front. */
void cw_scan_fail(CwScan *scan, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* The same for a member of the value at hand. */
void cw_scan_fail_inside(CwScan *scan, const char *key, const char *format, ...) G_GNUC_PRINTF(3, 4);

/* What kind of value is next, for messages. */
const char *cw_scan_what_follows(CwScan *scan);

/* TRUE if null is next, which is then passed. */
gboolean cw_scan_null(CwScan *scan);

/* Enters an object, the next value; FALSE on a fault. */
gboolean cw_scan_begin_object(CwScan *scan);

/* Goes to the next member of the object and returns its key, which stands until the next call at this level:
 * NULL at the object's end, which is then passed, and on a fault. That no key comes twice is for the caller
 * to see to. */
const char *cw_scan_next_key(CwScan *scan);

/* Enters a list, the next value; FALSE on a fault. */
gboolean cw_scan_begin_array(CwScan *scan);

/* Goes to the next item of the list: FALSE at its end, which is then passed, and on a fault. */
gboolean cw_scan_next_item(CwScan *scan);

/* The next value, a number; 0 on a fault. */
double cw_scan_number(CwScan *scan);

/* The next value, a whole number (1.0 and 1e3 are such too); 0 on a fault. */
gint64 cw_scan_integer(CwScan *scan);

/* The next value, true or false. */
gboolean cw_scan_truth(CwScan *scan);

/* The next value, a text; the caller frees it; NULL on a fault. */
char *cw_scan_text(CwScan *scan);

/* Passes the next value, whatever it is, by the same rules, and adds it to compact without white space.
 * Numbers keep the digits that they have. */
void cw_scan_anything(CwScan *scan, GString *compact);

/* The same JSON without white space, NULL if it is none; the caller frees it. */
char *cw_json_compact(const char *json, gssize length, GError **error);

G_END_DECLS
