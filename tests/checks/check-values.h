/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <glib.h>
#include <math.h>

/* The check values of checks.json, by id. Everything asked for must be there: a missing id, key, row or
 * column ends the test program, so that no check can pass by not being found. Strings "inf" and "-inf" read
 * as infinities, null as NAN. Texts are owned by the reader. */

/* The number under key in values; keys go down by dots ("driver.low") and lists are counted ("driver.0").
 * NULL for values itself. */
double check_number(const char *id, const char *key);

/* How many rows a table has, or how many items a list. */
size_t check_rows(const char *id);

double check_cell(const char *id, size_t row, const char *column);

/* The cell in a column told by its place, for tables in which a name stands twice. */
double check_cell_at(const char *id, size_t row, size_t place);
const char *check_text(const char *id, size_t row, const char *column);
gboolean check_flag(const char *id, size_t row, const char *column);

/* A cell that holds a list: how many items, and one of them. */
size_t check_cell_items(const char *id, size_t row, const char *column);
double check_cell_item(const char *id, size_t row, const char *column, size_t item);

/* The tolerance under key ("abs", "rel", "abs.dB"). */
double check_tolerance(const char *id, const char *key);

/* Fails unless got lies within tolerance of wanted; tells the check, where its value comes from, and by how
 * much it is missed. Two infinities of one sign agree; NAN agrees with nothing. */
#define check_near(id, got, wanted, tolerance)                                                               \
  check_near_at(__FILE__, __LINE__, G_STRFUNC, (id), (got), (wanted), (tolerance))
#define check_near_relative(id, got, wanted, tolerance)                                                      \
  check_near_at(__FILE__, __LINE__, G_STRFUNC, (id), (got), (wanted), (tolerance)*fabs(wanted))
void check_near_at(const char *file, int line, const char *function, const char *id, double got,
                   double wanted, double tolerance);

/* The same for a bound of our own, with what was measured in words. */
#define check_below(what, got, bound) check_below_at(__FILE__, __LINE__, G_STRFUNC, (what), (got), (bound))
void check_below_at(const char *file, int line, const char *function, const char *what, double got,
                    double bound);
