/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What tells the children of a list apart, and how they are found by it. */
#include "vehicle/record/record.h"
#include "vehicle/record/value.h"

#include <glib/gi18n-lib.h>

/* The field that tells the record apart in its list, NULL if the kind has none. */
const CwField *cw_record_get_identity(CwRecord *record)
{
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  for (guint i = 0; i < klass->n_fields; i++)
    if (klass->fields[i].flags & CW_FIELD_IDENTITY)
      return &klass->fields[i];
  return NULL;
}

/* The identity as text ("3", "driver/2"), NULL if the kind has none; the caller frees it. */
char *cw_record_say_identity(CwRecord *record)
{
  const CwField *field = cw_record_get_identity(record);
  if (!field)
    return NULL;
  if (field->type == CW_FIELD_INTEGER)
    return g_strdup_printf("%" G_GINT64_FORMAT,
                           cw_record_get_integer_at(record, cw_record_field_id(record, field)));
  return g_strdup(cw_record_get_text_at(record, cw_record_field_id(record, field)));
}

CwRecord *cw_list_find_integer_at(CwList *list, CwFieldId id, gint64 value)
{
  for (guint i = 0; i < cw_list_get_length(list); i++)
    if (cw_record_get_integer_at(cw_list_get(list, i), id) == value)
      return cw_list_get(list, i);
  return NULL;
}

CwRecord *cw_list_find_text_at(CwList *list, CwFieldId id, const char *value)
{
  for (guint i = 0; i < cw_list_get_length(list); i++)
    if (g_strcmp0(cw_record_get_text_at(cw_list_get(list, i), id), value) == 0)
      return cw_list_get(list, i);
  return NULL;
}

/* TRUE if an item of the list other than the record has that identity. */
static gboolean is_taken(CwList *list, CwRecord *record, const char *wanted)
{
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    g_autofree char *identity = cw_record_say_identity(cw_list_get(list, i));
    if (cw_list_get(list, i) != record && g_strcmp0(identity, wanted) == 0)
      return TRUE;
  }
  return FALSE;
}

void cw_list_identify(CwList *list, CwRecord *record)
{
  const CwField *identity = cw_record_get_identity(record);
  gboolean whole = identity && identity->type == CW_FIELD_INTEGER;
  if (!whole && !(identity && identity->type == CW_FIELD_TEXT))
    return;
  const char *base = identity->initial_text ? identity->initial_text : identity->label;
  for (guint number = 1;; number++) {
    g_autofree char *text = whole         ? g_strdup_printf("%u", number)
                            : number == 1 ? g_strdup(_(base))
                                          : g_strdup_printf("%s %u", _(base), number);
    if (is_taken(list, record, text))
      continue;
    if (whole)
      cw_record_set_integer_at(record, cw_record_field_id(record, identity), number);
    else
      cw_record_set_text_at(record, cw_record_field_id(record, identity), text);
    return;
  }
}
