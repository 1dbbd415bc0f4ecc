/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <glib-object.h>

G_BEGIN_DECLS

/* An immutable, counted table of numbers: a list (one column), a curve (hz and dB), rows of several columns,
 * or numbers by name (one column and a name a row). NaN stands for "not known"; no other value is without an
 * end. */
typedef struct {
  gint references;
  guint n_rows, n_columns;
  char **names;    /* one a row, or NULL */
  double values[]; /* n_rows * n_columns, row after row */
} CwNumbers;

#define CW_TYPE_NUMBERS (cw_numbers_get_type())
GType cw_numbers_get_type(void);

CwNumbers *cw_numbers_new(guint n_rows, guint n_columns, const double *values);
CwNumbers *cw_numbers_new_curve(guint n_points, const double *hz, const double *db);
CwNumbers *cw_numbers_new_named(guint n_rows, const char *const *names, const double *values);
CwNumbers *cw_numbers_new_whole(guint n_rows, const int *values);
CwNumbers *cw_numbers_ref(const CwNumbers *numbers);
void cw_numbers_unref(CwNumbers *numbers);
gboolean cw_numbers_equal(const CwNumbers *one, const CwNumbers *other);
double cw_numbers_named(const CwNumbers *numbers, const char *name);
gboolean cw_numbers_contain(const CwNumbers *numbers, double value);

/* The value in a row and column, both counted from 0 and within the table. */
static inline double cw_numbers_at(const CwNumbers *numbers, guint row, guint column)
{
  return numbers->values[(gsize)row * numbers->n_columns + column];
}

G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwNumbers, cw_numbers_unref)

G_END_DECLS
