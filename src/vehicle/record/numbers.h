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

/* A table of n_rows by n_columns (at least 1) numbers, copied from values row after row; values may be NULL
 * for a table of NaN. The caller owns the one reference. */
CwNumbers *cw_numbers_new(guint n_rows, guint n_columns, const double *values);

/* A curve of n_points rows of hz and db; db may be NaN where nothing is known. */
CwNumbers *cw_numbers_new_curve(guint n_points, const double *hz, const double *db);

/* Numbers by name; the names are copied and must differ. */
CwNumbers *cw_numbers_new_named(guint n_rows, const char *const *names, const double *values);

/* A list of whole numbers. */
CwNumbers *cw_numbers_new_whole(guint n_rows, const int *values);

/* Another reference to the same table; safe from any thread. */
CwNumbers *cw_numbers_ref(const CwNumbers *numbers);

/* Gives a reference back; the last one frees the table. NULL is let pass. */
void cw_numbers_unref(CwNumbers *numbers);

/* TRUE if both hold the same numbers bit for bit, NaN being equal to NaN, under the same names. */
gboolean cw_numbers_equal(const CwNumbers *one, const CwNumbers *other);

/* The number under a name, NaN if there is none. */
double cw_numbers_named(const CwNumbers *numbers, const char *name);

/* TRUE if the first column holds the value. */
gboolean cw_numbers_contain(const CwNumbers *numbers, double value);

/* The value in a row and column, both counted from 0 and within the table. */
static inline double cw_numbers_at(const CwNumbers *numbers, guint row, guint column)
{
  return numbers->values[(gsize)row * numbers->n_columns + column];
}

G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwNumbers, cw_numbers_unref)

G_END_DECLS
