/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/record/numbers.h"

#include <math.h>
#include <string.h>

G_DEFINE_BOXED_TYPE(CwNumbers, cw_numbers, cw_numbers_ref, cw_numbers_unref)

CwNumbers *cw_numbers_new(guint n_rows, guint n_columns, const double *values)
{
  g_return_val_if_fail(n_columns > 0, NULL);
  gsize n = (gsize)n_rows * n_columns;
  CwNumbers *numbers = g_malloc(sizeof(CwNumbers) + n * sizeof(double));
  numbers->references = 1;
  numbers->n_rows = n_rows;
  numbers->n_columns = n_columns;
  numbers->names = NULL;
  for (gsize i = 0; i < n; i++)
    numbers->values[i] = values ? values[i] : (double)NAN;
  return numbers;
}

CwNumbers *cw_numbers_new_curve(guint n_points, const double *hz, const double *db)
{
  CwNumbers *numbers = cw_numbers_new(n_points, 2, NULL);
  for (guint i = 0; i < n_points; i++) {
    numbers->values[2 * i] = hz[i];
    numbers->values[2 * i + 1] = db[i];
  }
  return numbers;
}

CwNumbers *cw_numbers_new_named(guint n_rows, const char *const *names, const double *values)
{
  CwNumbers *numbers = cw_numbers_new(n_rows, 1, values);
  numbers->names = g_new0(char *, n_rows + 1);
  for (guint i = 0; i < n_rows; i++)
    numbers->names[i] = g_strdup(names[i]);
  return numbers;
}

CwNumbers *cw_numbers_new_whole(guint n_rows, const int *values)
{
  CwNumbers *numbers = cw_numbers_new(n_rows, 1, NULL);
  for (guint i = 0; i < n_rows; i++)
    numbers->values[i] = values[i];
  return numbers;
}

CwNumbers *cw_numbers_ref(const CwNumbers *numbers)
{
  g_return_val_if_fail(numbers != NULL, NULL);
  CwNumbers *counted = (CwNumbers *)numbers;
  g_atomic_int_inc(&counted->references);
  return counted;
}

void cw_numbers_unref(CwNumbers *numbers)
{
  if (!numbers || !g_atomic_int_dec_and_test(&numbers->references))
    return;
  g_strfreev(numbers->names);
  g_free(numbers);
}

static gboolean same_names(char **one, char **other)
{
  if (!one || !other)
    return one == other;
  return g_strv_equal((const char *const *)one, (const char *const *)other);
}

gboolean cw_numbers_equal(const CwNumbers *one, const CwNumbers *other)
{
  if (one == other)
    return TRUE;
  if (!one || !other || one->n_rows != other->n_rows || one->n_columns != other->n_columns)
    return FALSE;
  gsize n = (gsize)one->n_rows * one->n_columns;
  for (gsize i = 0; i < n; i++) {
    double a = one->values[i], b = other->values[i];
    if (isnan(a) ? !isnan(b) : memcmp(&a, &b, sizeof a) != 0)
      return FALSE;
  }
  return !one->n_rows || same_names(one->names, other->names);
}

double cw_numbers_named(const CwNumbers *numbers, const char *name)
{
  for (guint i = 0; numbers && numbers->names && i < numbers->n_rows; i++)
    if (g_strcmp0(numbers->names[i], name) == 0)
      return numbers->values[i * numbers->n_columns];
  return (double)NAN;
}

gboolean cw_numbers_contain(const CwNumbers *numbers, double value)
{
  for (guint i = 0; i < numbers->n_rows; i++)
    if (cw_numbers_at(numbers, i, 0) == value)
      return TRUE;
  return FALSE;
}
