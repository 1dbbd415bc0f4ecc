/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/numbers_read.h"
#include "vehicle/record/record_private.h"

#include <math.h>
#include <string.h>

/* The numbers that a field starts with, from its initial text. */
static CwNumbers *initial_numbers(const CwField *field)
{
  if (!field->initial_text)
    return cw_numbers_new(0, cw_field_columns(field), NULL);
  GError *error = NULL;
  CwNumbers *numbers = cw_numbers_from_json(field, field->initial_text, &error);
  if (!numbers)
    g_error("%s: %s", field->key, error->message);
  return numbers;
}

void cw_cell_initialise(CwCell *cell, const CwField *field, CwRecord *owner)
{
  gboolean nullable = (field->flags & CW_FIELD_NULLABLE) != 0;
  memset(cell, 0, sizeof *cell);
  switch (field->type) {
  case CW_FIELD_TEXT:
    cell->text = g_strdup(field->initial_text ? field->initial_text : "");
    break;
  case CW_FIELD_NUMBER:
    cell->number = nullable ? (double)NAN : cw_field_bring_into_limits(field, field->initial);
    break;
  case CW_FIELD_INTEGER:
    cell->integer = nullable ? CW_NO_INTEGER : (gint64)cw_field_bring_into_limits(field, field->initial);
    break;
  case CW_FIELD_BOOLEAN:
    cell->truth = field->initial != 0;
    break;
  case CW_FIELD_CHOICE:
    cell->choice = nullable ? -1 : (int)field->initial;
    break;
  case CW_FIELD_NUMBERS:
  case CW_FIELD_NAMED:
  case CW_FIELD_ROWS:
  case CW_FIELD_CURVE:
    cell->numbers = initial_numbers(field);
    break;
  case CW_FIELD_TEXTS:
    cell->texts = field->initial_text ? g_strsplit(field->initial_text, ",", -1) : g_new0(char *, 1);
    break;
  case CW_FIELD_RECORD:
    if (!nullable) {
      cell->record = cw_record_new(field->child());
      cw_record_adopt(cell->record, owner);
    }
    break;
  case CW_FIELD_RECORDS:
    cell->records = cw_list_new(field->child(), owner);
    break;
  }
}

void cw_cell_clear(CwCell *cell, const CwField *field)
{
  switch (field->type) {
  case CW_FIELD_TEXT:
    g_free(cell->text);
    break;
  case CW_FIELD_NUMBERS:
  case CW_FIELD_NAMED:
  case CW_FIELD_ROWS:
  case CW_FIELD_CURVE:
    cw_numbers_unref(cell->numbers);
    break;
  case CW_FIELD_TEXTS:
    g_strfreev(cell->texts);
    break;
  case CW_FIELD_RECORD:
    if (cell->record)
      cw_record_release(cell->record);
    g_clear_object(&cell->record);
    break;
  case CW_FIELD_RECORDS:
    if (cell->records)
      cw_list_forget_owner(cell->records);
    g_clear_object(&cell->records);
    break;
  default:
    break;
  }
  memset(cell, 0, sizeof *cell);
}

static gboolean lists_equal(CwList *one, CwList *other)
{
  guint n = cw_list_get_length(one);
  if (n != cw_list_get_length(other))
    return FALSE;
  for (guint i = 0; i < n; i++)
    if (!cw_record_equal(cw_list_get(one, i), cw_list_get(other, i)))
      return FALSE;
  return TRUE;
}

gboolean cw_cell_equal(const CwCell *one, const CwCell *other, const CwField *field)
{
  switch (field->type) {
  case CW_FIELD_TEXT:
    return g_strcmp0(one->text, other->text) == 0;
  case CW_FIELD_NUMBER:
    return isnan(one->number) ? isnan(other->number)
                              : memcmp(&one->number, &other->number, sizeof one->number) == 0;
  case CW_FIELD_INTEGER:
    return one->integer == other->integer;
  case CW_FIELD_BOOLEAN:
    return !one->truth == !other->truth;
  case CW_FIELD_CHOICE:
    return one->choice == other->choice;
  case CW_FIELD_NUMBERS:
  case CW_FIELD_NAMED:
  case CW_FIELD_ROWS:
  case CW_FIELD_CURVE:
    return cw_numbers_equal(one->numbers, other->numbers);
  case CW_FIELD_TEXTS:
    return g_strv_equal((const char *const *)one->texts, (const char *const *)other->texts);
  case CW_FIELD_RECORD:
    if (!one->record || !other->record)
      return one->record == other->record;
    return cw_record_equal(one->record, other->record);
  case CW_FIELD_RECORDS:
    return lists_equal(one->records, other->records);
  }
  return FALSE;
}

void cw_cell_copy_value(CwCell *cell, const CwCell *source, const CwField *field)
{
  g_assert(field->type != CW_FIELD_RECORD && field->type != CW_FIELD_RECORDS);
  if (field->type == CW_FIELD_TEXT)
    cell->text = g_strdup(source->text);
  else if (field->type == CW_FIELD_TEXTS)
    cell->texts = g_strdupv(source->texts);
  else if (cw_field_columns(field))
    cell->numbers = cw_numbers_ref(source->numbers);
  else
    *cell = *source;
}

/* --- in a record --- */

CwRecord *cw_record_known_snapshot(CwRecord *record)
{
  CwRecordPrivate *inside = cw_record_inside(record);
  return inside->frozen ? record : inside->snapshot;
}

/* TRUE if both are of the same kind and hold the same values, unknown members among them. */
gboolean cw_record_equal(CwRecord *one, CwRecord *other)
{
  if (one == other)
    return TRUE;
  if (G_OBJECT_TYPE(one) != G_OBJECT_TYPE(other))
    return FALSE;
  CwRecord *known = cw_record_known_snapshot(one);
  if (known && known == cw_record_known_snapshot(other))
    return TRUE;
  CwRecordPrivate *a = cw_record_inside(one), *b = cw_record_inside(other);
  CwRecordClass *klass = CW_RECORD_GET_CLASS(one);
  if (g_strcmp0(a->unknown, b->unknown) != 0)
    return FALSE;
  for (guint i = 0; i < klass->n_fields; i++)
    if (!cw_cell_equal(&a->cells[i], &b->cells[i], &klass->fields[i]))
      return FALSE;
  return TRUE;
}

void cw_record_take_value(CwRecord *record, guint index, CwCell value)
{
  CwRecordPrivate *inside = cw_record_inside(record);
  const CwField *field = &CW_RECORD_GET_CLASS(record)->fields[index];
  if (inside->frozen || cw_cell_equal(&inside->cells[index], &value, field)) {
    if (inside->frozen)
      g_critical("a snapshot's %s cannot be set", field->key);
    cw_cell_clear(&value, field);
    return;
  }
  CwCell old = inside->cells[index];
  inside->cells[index] = value;
  cw_cell_clear(&old, field);
  cw_record_cell_changed(record, index);
}
