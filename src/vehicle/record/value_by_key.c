/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values by the key of their field, for code that has a key from a table or a document. */
#include "vehicle/record/record.h"
#include "vehicle/record/value.h"

/* The field under a key that must be there; without one, with a complaint, none that any function takes. */
static CwFieldId find(CwRecord *record, const char *key)
{
  const CwField *field = cw_record_find_field(record, key);
  if (field)
    return cw_record_identify_field(record, field);
  g_critical("%s has no such field: %s", G_OBJECT_TYPE_NAME(record), key);
  return CW_NO_FIELD;
}

double cw_record_get_number(CwRecord *record, const char *key)
{
  return cw_record_get_number_at(record, find(record, key));
}

void cw_record_set_number(CwRecord *record, const char *key, double value)
{
  cw_record_set_number_at(record, find(record, key), value);
}

gint64 cw_record_get_integer(CwRecord *record, const char *key)
{
  return cw_record_get_integer_at(record, find(record, key));
}

void cw_record_set_integer(CwRecord *record, const char *key, gint64 value)
{
  cw_record_set_integer_at(record, find(record, key), value);
}

gboolean cw_record_get_boolean(CwRecord *record, const char *key)
{
  return cw_record_get_boolean_at(record, find(record, key));
}

void cw_record_set_boolean(CwRecord *record, const char *key, gboolean value)
{
  cw_record_set_boolean_at(record, find(record, key), value);
}

const char *cw_record_get_text(CwRecord *record, const char *key)
{
  return cw_record_get_text_at(record, find(record, key));
}

void cw_record_set_text(CwRecord *record, const char *key, const char *value)
{
  cw_record_set_text_at(record, find(record, key), value);
}

int cw_record_get_choice(CwRecord *record, const char *key)
{
  return cw_record_get_choice_at(record, find(record, key));
}

void cw_record_set_choice(CwRecord *record, const char *key, int choice)
{
  cw_record_set_choice_at(record, find(record, key), choice);
}

const CwNumbers *cw_record_get_numbers(CwRecord *record, const char *key)
{
  return cw_record_get_numbers_at(record, find(record, key));
}

void cw_record_set_numbers(CwRecord *record, const char *key, const CwNumbers *value)
{
  cw_record_set_numbers_at(record, find(record, key), value);
}

void cw_record_take_numbers(CwRecord *record, const char *key, CwNumbers *value)
{
  cw_record_take_numbers_at(record, find(record, key), value);
}

const char *const *cw_record_get_texts(CwRecord *record, const char *key)
{
  return cw_record_get_texts_at(record, find(record, key));
}

void cw_record_set_texts(CwRecord *record, const char *key, const char *const *value)
{
  cw_record_set_texts_at(record, find(record, key), value);
}

CwRecord *cw_record_get_child(CwRecord *record, const char *key)
{
  return cw_record_get_child_at(record, find(record, key));
}

void cw_record_set_child(CwRecord *record, const char *key, CwRecord *child)
{
  cw_record_set_child_at(record, find(record, key), child);
}

CwRecord *cw_record_make_child(CwRecord *record, const char *key)
{
  return cw_record_make_child_at(record, find(record, key));
}

CwList *cw_record_get_children(CwRecord *record, const char *key)
{
  return cw_record_get_children_at(record, find(record, key));
}

CwRecord *cw_record_add_child(CwRecord *record, const char *key)
{
  return cw_record_add_child_at(record, find(record, key));
}

const char *cw_record_get_json(CwRecord *record, const char *key)
{
  return cw_record_get_json_at(record, find(record, key));
}

gboolean cw_record_set_json(CwRecord *record, const char *key, const char *json, GError **error)
{
  return cw_record_set_json_at(record, find(record, key), json, error);
}

gboolean cw_record_is_known(CwRecord *record, const char *key)
{
  return cw_record_is_known_at(record, find(record, key));
}
