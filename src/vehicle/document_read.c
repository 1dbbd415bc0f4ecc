/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/document.h"
#include "vehicle/json_scan.h"
#include "vehicle/record_private.h"

#include <math.h>
#include <string.h>

static CwRecord *read_record(CwScan *scan, GType kind);

/* --- tables of numbers --- */

/* Reads one number and checks it by the field's limits. */
static double read_checked_number(CwScan *scan, const CwField *field)
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
                : read_checked_number(scan, field);
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
    double value = read_checked_number(scan, field);
    g_array_append_val(values, value);
  }
  if (cw_scan_failed(scan))
    return NULL;
  return cw_numbers_new_named(names->len, (const char *const *)names->pdata,
                              (const double *)(gpointer)values->data);
}

static void read_list_number(CwScan *scan, const CwField *field, GArray *values)
{
  double value = read_checked_number(scan, field);
  if ((field->flags & CW_FIELD_RISES) && values->len &&
      !(value > g_array_index(values, double, values->len - 1)))
    cw_scan_fail(scan, "each must be above the one before");
  g_array_append_val(values, value);
}

static CwNumbers *read_numbers(CwScan *scan, const CwField *field)
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

/* --- other values --- */

static gint64 read_integer(CwScan *scan, const CwField *field)
{
  gint64 value = cw_scan_integer(scan);
  g_autoptr(GError) error = NULL;
  if (!cw_scan_failed(scan) && !cw_field_check_number(field, (double)value, &error))
    cw_scan_fail(scan, "%s", error->message);
  return value;
}

static int read_choice(CwScan *scan, const CwField *field)
{
  g_autofree char *word = cw_scan_text(scan);
  int choice = word ? cw_field_find_choice(field, word) : -1;
  if (word && choice < 0) {
    g_autofree char *choices = cw_field_list_choices(field);
    cw_scan_fail(scan, "\"%.60s\" is none of %s", word, choices);
  }
  return choice;
}

static char *read_text(CwScan *scan, const CwField *field)
{
  char *text = cw_scan_text(scan);
  if (text && !*text && (field->flags & CW_FIELD_REQUIRED))
    cw_scan_fail(scan, "must not be empty");
  return text ? text : g_strdup("");
}

static char **read_texts(CwScan *scan)
{
  GPtrArray *texts = g_ptr_array_new();
  if (cw_scan_begin_array(scan))
    while (cw_scan_next_item(scan)) {
      char *text = cw_scan_text(scan);
      if (text)
        g_ptr_array_add(texts, text);
    }
  g_ptr_array_add(texts, NULL);
  return (char **)g_ptr_array_free(texts, FALSE);
}

static char *read_anything(CwScan *scan)
{
  GString *compact = g_string_new(NULL);
  cw_scan_anything(scan, compact);
  gboolean null = g_str_equal(compact->str, "null");
  return g_string_free(compact, null);
}

static void read_children(CwScan *scan, const CwField *field, CwCell *cell)
{
  if (!cw_scan_begin_array(scan))
    return;
  while (cw_scan_next_item(scan)) {
    g_autoptr(CwRecord) item = read_record(scan, field->child());
    if (item)
      cw_list_append(cell->records, item);
  }
}

/* Reads a value, not null, in place of the one that the cell starts with. */
static void read_value(CwScan *scan, CwRecord *record, const CwField *field, CwCell *cell)
{
  if (field->type == CW_FIELD_RECORDS) {
    read_children(scan, field, cell);
    return;
  }
  CwCell value = {0};
  switch (field->type) {
  case CW_FIELD_TEXT:
    value.text = read_text(scan, field);
    break;
  case CW_FIELD_NUMBER:
    value.number = read_checked_number(scan, field);
    break;
  case CW_FIELD_INTEGER:
    value.integer = read_integer(scan, field);
    break;
  case CW_FIELD_BOOLEAN:
    value.truth = cw_scan_truth(scan);
    break;
  case CW_FIELD_CHOICE:
    value.choice = read_choice(scan, field);
    break;
  case CW_FIELD_TEXTS:
    value.texts = read_texts(scan);
    break;
  case CW_FIELD_ANYTHING:
    value.text = read_anything(scan);
    break;
  case CW_FIELD_RECORD:
    if ((value.record = read_record(scan, field->child())))
      cw_record_adopt(value.record, record);
    break;
  default:
    if (!(value.numbers = read_numbers(scan, field)))
      value.numbers = cw_numbers_new(0, cw_field_columns(field), NULL);
    break;
  }
  cw_cell_clear(cell, field);
  *cell = value;
}

static void read_member(CwScan *scan, CwRecord *record, guint index)
{
  const CwField *field = &CW_RECORD_GET_CLASS(record)->fields[index];
  CwCell *cell = &cw_record_inside(record)->cells[index];
  if (field->type != CW_FIELD_ANYTHING && cw_scan_null(scan)) {
    if (!(field->flags & CW_FIELD_NULLABLE))
      cw_scan_fail(scan, "null is not taken here");
    return; /* a field that may be empty starts empty */
  }
  read_value(scan, record, field, cell);
}

static void read_unknown(CwScan *scan, const char *key, GString *unknown, GHashTable *seen)
{
  if (!g_hash_table_add(seen, g_strdup(key)))
    cw_scan_fail(scan, "this key is there twice");
  g_string_append(unknown, unknown->len ? "," : "");
  cw_append_json_text(unknown, key);
  g_string_append_c(unknown, ':');
  cw_scan_anything(scan, unknown);
}

/* Reads an object as a record of a kind; NULL on a fault. */
static CwRecord *read_record(CwScan *scan, GType kind)
{
  if (!cw_scan_begin_object(scan))
    return NULL;
  g_autoptr(CwRecord) record = cw_record_new(kind);
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  g_autofree gboolean *seen = g_new0(gboolean, klass->n_fields);
  g_autoptr(GHashTable) seen_unknown = NULL;
  g_autoptr(GString) unknown = NULL;
  const char *key;
  while ((key = cw_scan_next_key(scan))) {
    guint index = GPOINTER_TO_UINT(g_hash_table_lookup(klass->index_by_key, key));
    if (index) {
      if (seen[index - 1])
        cw_scan_fail(scan, "this key is there twice");
      seen[index - 1] = TRUE;
      read_member(scan, record, index - 1);
      continue;
    }
    if (!unknown) {
      unknown = g_string_new(NULL);
      seen_unknown = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    }
    read_unknown(scan, key, unknown, seen_unknown);
  }
  for (guint i = 0; i < klass->n_fields; i++)
    if ((klass->fields[i].flags & CW_FIELD_REQUIRED) && !seen[i])
      cw_scan_fail_inside(scan, klass->fields[i].key, "is missing");
  if (cw_scan_failed(scan))
    return NULL;
  cw_record_inside(record)->unknown = unknown ? g_strdup(unknown->str) : NULL;
  return g_steal_pointer(&record);
}

/* --- public --- */

/* A record of a kind from its JSON (length -1: up to the NUL). NULL, and the first fault with its place, if
 * the text is not JSON, if a value is not one that its field takes, if a required one is missing, or if
 * cw_record_check() refuses. */
CwRecord *cw_record_from_json(GType kind, const char *json, gssize length, GError **error)
{
  CwScan *scan = cw_scan_new(json, length);
  g_autoptr(CwRecord) record = read_record(scan, kind);
  if (!cw_scan_finish(scan, error) || !cw_record_check(record, error))
    return NULL;
  return g_steal_pointer(&record);
}

/* Brings a live record to what the JSON says, in place, as cw_record_assign() does. All is read and checked
 * first: on a fault nothing has changed. */
gboolean cw_record_apply(CwRecord *record, const char *json, gssize length, GError **error)
{
  g_autoptr(CwRecord) wanted = cw_record_from_json(G_OBJECT_TYPE(record), json, length, error);
  if (!wanted)
    return FALSE;
  cw_record_assign(record, wanted);
  return TRUE;
}

/* A table of numbers for a field from its JSON. */
CwNumbers *cw_numbers_from_json(const CwField *field, const char *json, GError **error)
{
  CwScan *scan = cw_scan_new(json, -1);
  g_autoptr(CwNumbers) numbers = read_numbers(scan, field);
  if (!cw_scan_finish(scan, error))
    return NULL;
  return g_steal_pointer(&numbers);
}

/* The same JSON without white space, NULL if it is none; the caller frees it. */
char *cw_json_compact(const char *json, gssize length, GError **error)
{
  CwScan *scan = cw_scan_new(json, length);
  g_autoptr(GString) compact = g_string_new(NULL);
  cw_scan_anything(scan, compact);
  if (!cw_scan_finish(scan, error))
    return NULL;
  return g_strdup(compact->str);
}
