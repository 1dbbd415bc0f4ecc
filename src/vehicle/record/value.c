/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/record/value.h"
#include "vehicle/json/json_scan.h"
#include "vehicle/record/record_private.h"

#include <glib/gi18n-lib.h>
#include <math.h>
#include <string.h>

#define TYPE_BIT(type) (1u << (type))
#define NUMBERS_BITS                                                                                         \
  (TYPE_BIT(CW_FIELD_NUMBERS) | TYPE_BIT(CW_FIELD_NAMED) | TYPE_BIT(CW_FIELD_ROWS) | TYPE_BIT(CW_FIELD_CURVE))

/* The place in the table of a field of the record's kind and of one of the types; -1, with a complaint, is
 * the programmer's mistake. */
static int index_of(CwRecord *record, CwFieldId id, guint type_bits)
{
  g_return_val_if_fail(record != NULL, -1);
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  guint index = id - klass->first_field;
  if (index >= klass->n_fields || !(TYPE_BIT(klass->fields[index].type) & type_bits)) {
    g_critical("%s has no field %#x of that type", G_OBJECT_TYPE_NAME(record), id);
    return -1;
  }
  return (int)index;
}

static CwCell *cell_at(CwRecord *record, int index)
{
  return &cw_record_inside(record)->cells[index];
}

static const CwField *field_at(CwRecord *record, int index)
{
  return &CW_RECORD_GET_CLASS(record)->fields[index];
}

double cw_record_get_number_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_NUMBER));
  return index < 0 ? (double)NAN : cell_at(record, index)->number;
}

void cw_record_set_number_at(CwRecord *record, CwFieldId id, double value)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_NUMBER));
  if (index < 0)
    return;
  const CwField *field = field_at(record, index);
  g_return_if_fail(isfinite(value) || (isnan(value) && (field->flags & CW_FIELD_NULLABLE)));
  cw_record_take_value(record, (guint)index, (CwCell){.number = cw_field_bring_into_limits(field, value)});
}

gint64 cw_record_get_integer_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_INTEGER));
  return index < 0 ? CW_NO_INTEGER : cell_at(record, index)->integer;
}

void cw_record_set_integer_at(CwRecord *record, CwFieldId id, gint64 value)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_INTEGER));
  if (index < 0)
    return;
  const CwField *field = field_at(record, index);
  gboolean none = value == CW_NO_INTEGER;
  g_return_if_fail(!none || (field->flags & CW_FIELD_NULLABLE));
  if (!none && cw_field_has_limits(field))
    value = CLAMP(value, (gint64)field->least, (gint64)field->most);
  cw_record_take_value(record, (guint)index, (CwCell){.integer = value});
}

gboolean cw_record_get_boolean_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_BOOLEAN));
  return index < 0 ? FALSE : cell_at(record, index)->truth;
}

void cw_record_set_boolean_at(CwRecord *record, CwFieldId id, gboolean value)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_BOOLEAN));
  if (index >= 0)
    cw_record_take_value(record, (guint)index, (CwCell){.truth = !!value});
}

const char *cw_record_get_text_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_TEXT) | TYPE_BIT(CW_FIELD_CHOICE));
  if (index < 0)
    return NULL;
  if (field_at(record, index)->type == CW_FIELD_TEXT)
    return cell_at(record, index)->text;
  int choice = cell_at(record, index)->choice;
  return choice < 0 ? NULL : field_at(record, index)->choices[choice].word;
}

void cw_record_set_text_at(CwRecord *record, CwFieldId id, const char *value)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_TEXT) | TYPE_BIT(CW_FIELD_CHOICE));
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

int cw_record_get_choice_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_CHOICE));
  return index < 0 ? -1 : cell_at(record, index)->choice;
}

void cw_record_set_choice_at(CwRecord *record, CwFieldId id, int choice)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_CHOICE));
  if (index < 0)
    return;
  const CwField *field = field_at(record, index);
  int n = 0;
  while (field->choices[n].word)
    n++;
  g_return_if_fail(choice < n && (choice >= 0 || (field->flags & CW_FIELD_NULLABLE)));
  cw_record_take_value(record, (guint)index, (CwCell){.choice = MAX(choice, -1)});
}

const char *cw_record_say_choice_at(CwRecord *record, CwFieldId id)
{
  int choice = cw_record_get_choice_at(record, id);
  return choice < 0 ? "" : _(cw_record_get_field_at(record, id)->choices[choice].label);
}

const CwNumbers *cw_record_get_numbers_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, NUMBERS_BITS);
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

void cw_record_take_numbers_at(CwRecord *record, CwFieldId id, CwNumbers *value)
{
  int index = index_of(record, id, NUMBERS_BITS);
  g_return_if_fail(value != NULL);
  const CwField *field = index < 0 ? NULL : field_at(record, index);
  if (field)
    value = round_to_significant(field, bring_into_limits(field, value));
  if (!field || !fits(field, value)) {
    g_critical("%s: these numbers do not fit the field", field ? field->key : "");
    cw_numbers_unref(value);
    return;
  }
  cw_record_take_value(record, (guint)index, (CwCell){.numbers = value});
}

void cw_record_set_numbers_at(CwRecord *record, CwFieldId id, const CwNumbers *value)
{
  g_return_if_fail(value != NULL);
  cw_record_take_numbers_at(record, id, cw_numbers_ref(value));
}

const char *const *cw_record_get_texts_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_TEXTS));
  return index < 0 ? NULL : (const char *const *)cell_at(record, index)->texts;
}

void cw_record_set_texts_at(CwRecord *record, CwFieldId id, const char *const *value)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_TEXTS));
  if (index < 0)
    return;
  guint n = value ? g_strv_length((char **)value) : 0;
  char **texts = g_new0(char *, n + 1);
  for (guint i = 0; i < n; i++)
    texts[i] = g_utf8_make_valid(value[i], -1);
  cw_record_take_value(record, (guint)index, (CwCell){.texts = texts});
}

CwRecord *cw_record_get_child_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_RECORD));
  return index < 0 ? NULL : cell_at(record, index)->record;
}

void cw_record_set_child_at(CwRecord *record, CwFieldId id, CwRecord *child)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_RECORD));
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

CwRecord *cw_record_make_child_at(CwRecord *record, CwFieldId id)
{
  CwRecord *child = cw_record_get_child_at(record, id);
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_RECORD));
  if (child || index < 0)
    return child;
  child = cw_record_new(field_at(record, index)->child());
  cw_record_set_child_at(record, id, child);
  g_object_unref(child);
  return cw_record_get_child_at(record, id);
}

CwList *cw_record_get_children_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, TYPE_BIT(CW_FIELD_RECORDS));
  return index < 0 ? NULL : cell_at(record, index)->records;
}

CwRecord *cw_record_add_child_at(CwRecord *record, CwFieldId id)
{
  CwList *list = cw_record_get_children_at(record, id);
  return list ? cw_list_append_new(list) : NULL;
}

gboolean cw_record_is_known_at(CwRecord *record, CwFieldId id)
{
  int index = index_of(record, id, ~0u);
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
