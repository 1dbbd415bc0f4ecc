/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/numbers_read.h"

#include <math.h>

double cw_read_number(CwScan *scan, const CwField *field)
{
  if ((field->flags & CW_FIELD_NULLABLE) && cw_scan_null(scan))
    return (double)NAN;
  double value = cw_scan_number(scan);
  g_autoptr(GError) error = NULL;
  if (!cw_scan_failed(scan) && !cw_field_check_number(field, value, &error))
    cw_scan_fail(scan, "%s", error->message);
  return value;
}

/* Reads one row of a curve or of rows into values; the first number must rise from row to row. */
static void read_row(CwScan *scan, const CwField *field, GArray *values)
{
  guint columns = cw_field_columns(field), n = 0;
  if (!cw_scan_begin_array(scan))
    return;
  for (; cw_scan_next_item(scan); n++) {
    double value;
    if (n >= columns) {
      cw_scan_fail(scan, "more than %u numbers", columns);
      return;
    }
    value = n == 0 || field->type == CW_FIELD_ROWS
                ? ((field->flags & CW_FIELD_NULLABLE) && n && cw_scan_null(scan) ? (double)NAN
                                                                                 : cw_scan_number(scan))
                : cw_read_number(scan, field);
    if (cw_scan_failed(scan))
      return;
    double before =
        n == 0 && values->len ? g_array_index(values, double, values->len - columns) : -G_MAXDOUBLE;
    if (n == 0 && field->type == CW_FIELD_CURVE && !(value > 0)) {
      cw_scan_fail(scan, "a frequency must be above 0");
      return;
    }
    if (n == 0 && !(value > before)) {
      g_autofree char *one = cw_format_number(value), *other = cw_format_number(before);
      cw_scan_fail(scan, "%s does not rise above %s before it", one, other);
      return;
    }
    g_array_append_val(values, value);
  }
  if (!cw_scan_failed(scan) && n < columns)
    cw_scan_fail(scan, "%u numbers were expected, not %u", columns, n);
}

static CwNumbers *read_named(CwScan *scan, const CwField *field)
{
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GArray) values = g_array_new(FALSE, FALSE, sizeof(double));
  g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
  const char *key;
  if (!cw_scan_begin_object(scan))
    return NULL;
  while ((key = cw_scan_next_key(scan))) {
    char *name = g_strdup(key);
    g_ptr_array_add(names, name);
    if (!g_hash_table_add(seen, name))
      cw_scan_fail(scan, "this key is there twice");
    double value = cw_read_number(scan, field);
    g_array_append_val(values, value);
  }
  if (cw_scan_failed(scan))
    return NULL;
  return cw_numbers_new_named(names->len, (const char *const *)names->pdata,
                              (const double *)(gpointer)values->data);
}

static void read_list_number(CwScan *scan, const CwField *field, GArray *values)
{
  double value = cw_read_number(scan, field);
  if ((field->flags & CW_FIELD_RISES) && values->len &&
      !(value > g_array_index(values, double, values->len - 1)))
    cw_scan_fail(scan, "each must be above the one before");
  g_array_append_val(values, value);
}

CwNumbers *cw_read_numbers(CwScan *scan, const CwField *field)
{
  guint columns = cw_field_columns(field);
  if (field->type == CW_FIELD_NAMED)
    return read_named(scan, field);
  g_autoptr(GArray) values = g_array_new(FALSE, FALSE, sizeof(double));
  if (!cw_scan_begin_array(scan))
    return NULL;
  while (cw_scan_next_item(scan)) {
    if (field->type == CW_FIELD_NUMBERS)
      read_list_number(scan, field, values);
    else
      read_row(scan, field, values);
  }
  if (!cw_scan_failed(scan) && field->type == CW_FIELD_NUMBERS && field->columns &&
      values->len != field->columns)
    cw_scan_fail(scan, "%u numbers were expected, not %u", field->columns, values->len);
  if (cw_scan_failed(scan))
    return NULL;
  return cw_numbers_new(values->len / columns, columns, (const double *)(gpointer)values->data);
}

CwNumbers *cw_numbers_from_json(const CwField *field, const char *json, GError **error)
{
  CwScan *scan = cw_scan_new(json, -1);
  g_autoptr(CwNumbers) numbers = cw_read_numbers(scan, field);
  if (!cw_scan_finish(scan, error))
    return NULL;
  return g_steal_pointer(&numbers);
}
