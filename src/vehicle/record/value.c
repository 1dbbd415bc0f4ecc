/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/json_scan.h"
#include "vehicle/record/record_private.h"

#include <math.h>
#include <string.h>

#define TYPE_BIT(type) (1u << (type))
#define NUMBERS_BITS                                                                                         \
  (TYPE_BIT(CW_FIELD_NUMBERS) | TYPE_BIT(CW_FIELD_NAMED) | TYPE_BIT(CW_FIELD_ROWS) | TYPE_BIT(CW_FIELD_CURVE))

/* The index of a field that must be there and of one of the types; -1, with a complaint, is the programmer's
 * mistake. */
static int find(CwRecord *record, const char *key, guint type_bits)
{
  g_return_val_if_fail(CW_IS_RECORD(record), -1);
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  int index = (int)GPOINTER_TO_UINT(g_hash_table_lookup(klass->index_by_key, key)) - 1;
  if (index < 0 || !(TYPE_BIT(klass->fields[index].type) & type_bits)) {
    g_critical("%s has no such field of that type: %s", G_OBJECT_TYPE_NAME(record), key);
    return -1;
  }
  return index;
}

static CwCell *cell_at(CwRecord *record, int index)
{
  return &cw_record_inside(record)->cells[index];
}

static const CwField *field_at(CwRecord *record, int index)
{
  return &CW_RECORD_GET_CLASS(record)->fields[index];
}

/* A number; NaN where the field may be empty and is. */
double cw_record_get_number(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_NUMBER));
  return index < 0 ? (double)NAN : cell_at(record, index)->number;
}

/* Sets a number, brought into the field's limits. NaN empties a field that may be empty; elsewhere a value
 * that is not finite is the programmer's mistake and changes nothing. */
void cw_record_set_number(CwRecord *record, const char *key, double value)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_NUMBER));
  if (index < 0)
    return;
  const CwField *field = field_at(record, index);
  g_return_if_fail(isfinite(value) || (isnan(value) && (field->flags & CW_FIELD_NULLABLE)));
  cw_record_take_value(record, (guint)index, (CwCell){.number = cw_field_bring_into_limits(field, value)});
}

/* A whole number; CW_NO_INTEGER where the field may be empty and is. */
gint64 cw_record_get_integer(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_INTEGER));
  return index < 0 ? CW_NO_INTEGER : cell_at(record, index)->integer;
}

/* Sets a whole number, brought into the field's limits; CW_NO_INTEGER empties a field that may be empty. */
void cw_record_set_integer(CwRecord *record, const char *key, gint64 value)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_INTEGER));
  if (index < 0)
    return;
  const CwField *field = field_at(record, index);
  gboolean none = value == CW_NO_INTEGER;
  g_return_if_fail(!none || (field->flags & CW_FIELD_NULLABLE));
  if (!none && cw_field_has_limits(field))
    value = CLAMP(value, (gint64)field->least, (gint64)field->most);
  cw_record_take_value(record, (guint)index, (CwCell){.integer = value});
}

/* Yes or no. */
gboolean cw_record_get_boolean(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_BOOLEAN));
  return index < 0 ? FALSE : cell_at(record, index)->truth;
}

/* Sets yes or no. */
void cw_record_set_boolean(CwRecord *record, const char *key, gboolean value)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_BOOLEAN));
  if (index >= 0)
    cw_record_take_value(record, (guint)index, (CwCell){.truth = !!value});
}

/* A text, never NULL, or the word of a choice, NULL where that may be empty and is. */
const char *cw_record_get_text(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_TEXT) | TYPE_BIT(CW_FIELD_CHOICE));
  if (index < 0)
    return NULL;
  if (field_at(record, index)->type == CW_FIELD_TEXT)
    return cell_at(record, index)->text;
  int choice = cell_at(record, index)->choice;
  return choice < 0 ? NULL : field_at(record, index)->choices[choice].word;
}

/* Sets a text (UTF-8; NULL is the empty text), or a choice by its word (NULL empties one that may be empty).
 */
void cw_record_set_text(CwRecord *record, const char *key, const char *value)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_TEXT) | TYPE_BIT(CW_FIELD_CHOICE));
  if (index < 0)
    return;
  const CwField *field = field_at(record, index);
  if (field->type == CW_FIELD_TEXT) {
    cw_record_take_value(record, (guint)index, (CwCell){.text = g_utf8_make_valid(value ? value : "", -1)});
    return;
  }
  int choice = cw_field_find_choice(field, value);
  g_return_if_fail(choice >= 0 || (!value && (field->flags & CW_FIELD_NULLABLE)));
  cw_record_take_value(record, (guint)index, (CwCell){.choice = choice});
}

/* The index of the chosen word in the field's choices, -1 for none. */
int cw_record_get_choice(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_CHOICE));
  return index < 0 ? -1 : cell_at(record, index)->choice;
}

/* Sets a choice by its index; -1 empties one that may be empty. */
void cw_record_set_choice(CwRecord *record, const char *key, int choice)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_CHOICE));
  if (index < 0)
    return;
  const CwField *field = field_at(record, index);
  int n = 0;
  while (field->choices[n].word)
    n++;
  g_return_if_fail(choice < n && (choice >= 0 || (field->flags & CW_FIELD_NULLABLE)));
  cw_record_take_value(record, (guint)index, (CwCell){.choice = MAX(choice, -1)});
}

/* A list, curve, rows or numbers by name; never NULL. */
const CwNumbers *cw_record_get_numbers(CwRecord *record, const char *key)
{
  int index = find(record, key, NUMBERS_BITS);
  return index < 0 ? NULL : cell_at(record, index)->numbers;
}

/* The table with every number within the field's limits: the same one, or a copy where one was outside. */
static CwNumbers *bring_into_limits(const CwField *field, CwNumbers *numbers)
{
  guint first = field->type == CW_FIELD_CURVE ? 1 : 0;
  CwNumbers *copy = NULL;
  if (!cw_field_has_limits(field) || field->type == CW_FIELD_ROWS)
    return numbers;
  for (guint row = 0; row < numbers->n_rows && first < numbers->n_columns; row++) {
    double value = cw_numbers_at(numbers, row, first), within = cw_field_bring_into_limits(field, value);
    if (isnan(value) || value == within)
      continue;
    if (!copy) {
      copy = cw_numbers_new(numbers->n_rows, numbers->n_columns, numbers->values);
      copy->names = g_strdupv(numbers->names);
    }
    copy->values[row * numbers->n_columns + first] = within;
  }
  if (!copy)
    return numbers;
  cw_numbers_unref(numbers);
  return copy;
}

/* The table with as many digits of every number as the field keeps. */
static CwNumbers *round_to_significant(const CwField *field, CwNumbers *numbers)
{
  char digits[G_ASCII_DTOSTR_BUF_SIZE];
  g_autofree char *format = g_strdup_printf("%%.%ug", field->significant);
  gsize n = (gsize)numbers->n_rows * numbers->n_columns;
  if (!field->significant)
    return numbers;
  CwNumbers *rounded = cw_numbers_new(numbers->n_rows, numbers->n_columns, numbers->values);
  for (gsize i = 0; i < n; i++)
    if (!isnan(numbers->values[i]))
      rounded->values[i] =
          g_ascii_strtod(g_ascii_formatd(digits, sizeof digits, format, numbers->values[i]), NULL);
  cw_numbers_unref(numbers);
  return rounded;
}

static gboolean fits(const CwField *field, const CwNumbers *numbers)
{
  gboolean named = field->type == CW_FIELD_NAMED;
  gboolean rises =
      field->type == CW_FIELD_CURVE || field->type == CW_FIELD_ROWS || (field->flags & CW_FIELD_RISES);
  if (field->type == CW_FIELD_NUMBERS && field->columns && numbers->n_rows != field->columns)
    return FALSE;
  if (numbers->n_columns != cw_field_columns(field) || (named && numbers->n_rows && !numbers->names))
    return FALSE;
  for (guint i = 0; i < numbers->n_rows * numbers->n_columns; i++) {
    gboolean first = i % numbers->n_columns == 0,
             may_be_empty = (field->flags & CW_FIELD_NULLABLE) && !(rises && first);
    if (!isfinite(numbers->values[i]) && !(isnan(numbers->values[i]) && may_be_empty))
      return FALSE;
    if (field->type == CW_FIELD_CURVE && first && !(numbers->values[i] > 0))
      return FALSE;
    if (rises && first && i && !(numbers->values[i] > numbers->values[i - numbers->n_columns]))
      return FALSE;
  }
  return TRUE;
}

/* Sets a table of numbers, and takes the caller's reference. It must have the field's columns, finite numbers
 * (NaN where the field may be empty) and, for a curve or rows, a first column that rises; the limits are
 * applied as for one number. */
void cw_record_take_numbers(CwRecord *record, const char *key, CwNumbers *value)
{
  int index = find(record, key, NUMBERS_BITS);
  g_return_if_fail(value != NULL);
  const CwField *field = index < 0 ? NULL : field_at(record, index);
  if (field)
    value = round_to_significant(field, bring_into_limits(field, value));
  if (!field || !fits(field, value)) {
    g_critical("%s: these numbers do not fit the field", key);
    cw_numbers_unref(value);
    return;
  }
  cw_record_take_value(record, (guint)index, (CwCell){.numbers = value});
}

/* The same; the caller keeps its reference. */
void cw_record_set_numbers(CwRecord *record, const char *key, const CwNumbers *value)
{
  g_return_if_fail(value != NULL);
  cw_record_take_numbers(record, key, cw_numbers_ref(value));
}

/* A list of texts that ends with NULL; never NULL itself. */
const char *const *cw_record_get_texts(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_TEXTS));
  return index < 0 ? NULL : (const char *const *)cell_at(record, index)->texts;
}

/* Sets a list of texts (UTF-8, ends with NULL; NULL is the empty list). */
void cw_record_set_texts(CwRecord *record, const char *key, const char *const *value)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_TEXTS));
  if (index < 0)
    return;
  guint n = value ? g_strv_length((char **)value) : 0;
  char **texts = g_new0(char *, n + 1);
  for (guint i = 0; i < n; i++)
    texts[i] = g_utf8_make_valid(value[i], -1);
  cw_record_take_value(record, (guint)index, (CwCell){.texts = texts});
}

/* The JSON that is kept in a field of any form, NULL for null. */
const char *cw_record_get_json(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_ANYTHING));
  return index < 0 ? NULL : cell_at(record, index)->text;
}

/* Keeps JSON in a field of any form; NULL is null. Refused if it is not JSON. */
gboolean cw_record_set_json(CwRecord *record, const char *key, const char *json, GError **error)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_ANYTHING));
  g_return_val_if_fail(index >= 0, FALSE);
  char *compact = NULL;
  if (json && !(compact = cw_json_compact(json, -1, error)))
    return FALSE;
  if (compact && strcmp(compact, "null") == 0)
    g_clear_pointer(&compact, g_free);
  cw_record_take_value(record, (guint)index, (CwCell){.text = compact});
  return TRUE;
}

/* The one child in a field, NULL where that may be missing and is. */
CwRecord *cw_record_get_child(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_RECORD));
  return index < 0 ? NULL : cell_at(record, index)->record;
}

/* Puts a record that is no part of another, and of the field's kind, in place of the child; NULL takes away a
 * child that may be missing. The record keeps a reference of its own. */
void cw_record_set_child(CwRecord *record, const char *key, CwRecord *child)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_RECORD));
  if (index < 0 || child == cell_at(record, index)->record)
    return;
  const CwField *field = field_at(record, index);
  CwCell *cell = cell_at(record, index);
  g_return_if_fail(!cw_record_is_snapshot(record));
  g_return_if_fail(child ? G_OBJECT_TYPE(child) == field->child() : (field->flags & CW_FIELD_NULLABLE) != 0);
  g_return_if_fail(!child || (!cw_record_get_parent(child) && !cw_record_is_snapshot(child)));
  CwRecord *old = cell->record;
  cell->record = child ? g_object_ref(child) : NULL;
  if (child)
    cw_record_adopt(child, record);
  cw_record_cell_changed(record, (guint)index);
  if (old)
    cw_record_release(old);
  g_clear_object(&old);
}

/* The child in a field, made if it was missing; borrowed. */
CwRecord *cw_record_make_child(CwRecord *record, const char *key)
{
  CwRecord *child = cw_record_get_child(record, key);
  int index = find(record, key, TYPE_BIT(CW_FIELD_RECORD));
  if (child || index < 0)
    return child;
  child = cw_record_new(field_at(record, index)->child());
  cw_record_set_child(record, key, child);
  g_object_unref(child);
  return cw_record_get_child(record, key);
}

/* The list of children in a field; never NULL. */
CwList *cw_record_get_children(CwRecord *record, const char *key)
{
  int index = find(record, key, TYPE_BIT(CW_FIELD_RECORDS));
  return index < 0 ? NULL : cell_at(record, index)->records;
}

/* Appends a new record to the list of children in a field; borrowed. */
CwRecord *cw_record_add_child(CwRecord *record, const char *key)
{
  CwList *list = cw_record_get_children(record, key);
  return list ? cw_list_append_new(list) : NULL;
}

/* FALSE where a field that may be empty is: NaN, no number, no word, no child; or an empty text or list. */
gboolean cw_record_is_known(CwRecord *record, const char *key)
{
  int index = find(record, key, ~0u);
  if (index < 0)
    return FALSE;
  const CwCell *cell = cell_at(record, index);
  switch (field_at(record, index)->type) {
  case CW_FIELD_NUMBER:
    return !isnan(cell->number);
  case CW_FIELD_INTEGER:
    return cell->integer != CW_NO_INTEGER;
  case CW_FIELD_BOOLEAN:
    return TRUE;
  case CW_FIELD_CHOICE:
    return cell->choice >= 0;
  case CW_FIELD_TEXT:
  case CW_FIELD_ANYTHING:
    return cell->text && *cell->text;
  case CW_FIELD_TEXTS:
    return cell->texts[0] != NULL;
  case CW_FIELD_RECORD:
    return cell->record != NULL;
  case CW_FIELD_RECORDS:
    return cw_list_get_length(cell->records) > 0;
  default:
    return cell->numbers->n_rows > 0;
  }
}
