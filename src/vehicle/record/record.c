/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/record/record_private.h"

#include <math.h>
#include <string.h>

G_DEFINE_TYPE_WITH_PRIVATE(CwRecord, cw_record, G_TYPE_OBJECT)

static guint changed_signal;

CwRecordPrivate *cw_record_inside(CwRecord *record)
{
  return (CwRecordPrivate *)cw_record_get_instance_private(record);
}

static const CwField *field_at(CwRecord *record, guint index)
{
  return &CW_RECORD_GET_CLASS(record)->fields[index];
}

/* --- life --- */

static void cw_record_init(CwRecord *record)
{
}

static void cw_record_class_init(CwRecordClass *klass)
{
  changed_signal =
      g_signal_new("changed", CW_TYPE_RECORD, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

/* A record of a kind, with the values that its table starts with; the caller owns it. */
CwRecord *cw_record_new(GType kind)
{
  g_return_val_if_fail(g_type_is_a(kind, CW_TYPE_RECORD), NULL);
  return CW_RECORD(g_object_new(kind, NULL));
}

/* --- change --- */

void cw_record_adopt(CwRecord *record, CwRecord *parent)
{
  CwRecordPrivate *inside = cw_record_inside(record);
  g_return_if_fail(inside->parent == NULL && !inside->frozen);
  inside->parent = parent;
}

void cw_record_release(CwRecord *record)
{
  CwRecordPrivate *inside = cw_record_inside(record);
  if (inside->parent) /* a snapshot has none, and other threads may be reading it */
    inside->parent = NULL;
}

void cw_record_forget_snapshots(CwRecord *record)
{
  for (CwRecord *at = record; at; at = cw_record_inside(at)->parent)
    g_clear_object(&cw_record_inside(at)->snapshot);
}

static void signal_upwards(CwRecord *record)
{
  for (CwRecord *at = record; at; at = cw_record_inside(at)->parent)
    g_signal_emit(at, changed_signal, 0);
}

void cw_record_cell_changed(CwRecord *record, guint index)
{
  cw_record_forget_snapshots(record);
  g_object_notify_by_pspec(G_OBJECT(record), CW_RECORD_GET_CLASS(record)->properties[index]);
  signal_upwards(record);
}

void cw_record_list_changed(CwRecord *record, CwList *list)
{
  CwRecordPrivate *inside = cw_record_inside(record);
  for (guint i = 0; i < CW_RECORD_GET_CLASS(record)->n_fields; i++)
    if (field_at(record, i)->type == CW_FIELD_RECORDS && inside->cells[i].records == list)
      cw_record_cell_changed(record, i);
}

void cw_record_set_unknown(CwRecord *record, const char *unknown)
{
  CwRecordPrivate *inside = cw_record_inside(record);
  if (g_strcmp0(inside->unknown, unknown) == 0)
    return;
  g_free(inside->unknown);
  inside->unknown = g_strdup(unknown);
  cw_record_forget_snapshots(record);
  signal_upwards(record);
}

/* --- the table --- */

/* The record's table. */
const CwField *cw_record_get_fields(CwRecord *record, guint *n_fields)
{
  *n_fields = CW_RECORD_GET_CLASS(record)->n_fields;
  return CW_RECORD_GET_CLASS(record)->fields;
}

/* A kind's table, without a record. */
const CwField *cw_kind_get_fields(GType kind, guint *n_fields)
{
  CwRecordClass *klass =
      g_type_class_ref(kind); /* kinds are static: the class stays without this reference */
  const CwField *fields = klass->fields;
  *n_fields = klass->n_fields;
  g_type_class_unref(klass);
  return fields;
}

/* The field under a key, NULL if the kind has none. */
const CwField *cw_record_find_field(CwRecord *record, const char *key)
{
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  guint index = GPOINTER_TO_UINT(g_hash_table_lookup(klass->index_by_key, key));
  return index ? &klass->fields[index - 1] : NULL;
}

/* What code calls a field of the record's own table. */
CwFieldId cw_record_field_id(CwRecord *record, const CwField *field)
{
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  g_return_val_if_fail(field >= klass->fields && field < klass->fields + klass->n_fields, CW_NO_FIELD);
  return klass->first_field + (CwFieldId)(field - klass->fields);
}

/* The table's row of a field; NULL, with a complaint, if the field is of another kind. */
const CwField *cw_record_get_field_at(CwRecord *record, CwFieldId id)
{
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  g_return_val_if_fail(id - klass->first_field < klass->n_fields, NULL);
  return &klass->fields[id - klass->first_field];
}

/* The record that this one is a part of, NULL for the root and for a snapshot. */
CwRecord *cw_record_get_parent(CwRecord *record)
{
  return cw_record_inside(record)->parent;
}

/* The record that all is a part of. */
CwRecord *cw_record_get_root(CwRecord *record)
{
  while (cw_record_inside(record)->parent)
    record = cw_record_inside(record)->parent;
  return record;
}

/* TRUE if the record never changes. */
gboolean cw_record_is_snapshot(CwRecord *record)
{
  return cw_record_inside(record)->frozen;
}
