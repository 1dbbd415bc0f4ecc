/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/record_private.h"

#include <math.h>
#include <string.h>

G_DEFINE_TYPE_WITH_PRIVATE(CwRecord, cw_record, G_TYPE_OBJECT)

static guint changed_signal;

/* The record's own store; for the files of this room that read, write, copy and compare. */
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

static void record_constructed(GObject *object)
{
  CwRecord *record = CW_RECORD(object);
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  CwRecordPrivate *inside = cw_record_inside(record);
  G_OBJECT_CLASS(cw_record_parent_class)->constructed(object);
  inside->cells = g_new0(CwCell, klass->n_fields);
  for (guint i = 0; i < klass->n_fields; i++)
    cw_cell_initialise(&inside->cells[i], &klass->fields[i], record);
}

static void record_finalize(GObject *object)
{
  CwRecord *record = CW_RECORD(object);
  CwRecordPrivate *inside = cw_record_inside(record);
  for (guint i = 0; i < CW_RECORD_GET_CLASS(record)->n_fields; i++)
    cw_cell_clear(&inside->cells[i], field_at(record, i));
  g_free(inside->cells);
  g_free(inside->unknown);
  g_free(inside->json);
  g_clear_object(&inside->snapshot);
  G_OBJECT_CLASS(cw_record_parent_class)->finalize(object);
}

/* A record of a kind, with the values that its table starts with; the caller owns it. */
CwRecord *cw_record_new(GType kind)
{
  g_return_val_if_fail(g_type_is_a(kind, CW_TYPE_RECORD), NULL);
  return CW_RECORD(g_object_new(kind, NULL));
}

/* --- change --- */

/* Makes the record known as a part of parent. A record is a part of one other at most. */
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

/* The record is no longer as its snapshot has it, and so is all that it is a part of. To be called before
 * anybody is told of a change, for who is told may take a snapshot. */
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

/* The value of a field has changed: tells whoever watches. */
void cw_record_cell_changed(CwRecord *record, guint index)
{
  cw_record_forget_snapshots(record);
  g_object_notify_by_pspec(G_OBJECT(record), CW_RECORD_GET_CLASS(record)->properties[index]);
  signal_upwards(record);
}

/* A list of the record has got or lost items. */
void cw_record_list_changed(CwRecord *record, CwList *list)
{
  CwRecordPrivate *inside = cw_record_inside(record);
  for (guint i = 0; i < CW_RECORD_GET_CLASS(record)->n_fields; i++)
    if (field_at(record, i)->type == CW_FIELD_RECORDS && inside->cells[i].records == list)
      cw_record_cell_changed(record, i);
}

/* Puts a value that is no record in place of the field's, if it differs; takes what the value holds. */
void cw_record_take_value(CwRecord *record, guint index, CwCell value)
{
  CwRecordPrivate *inside = cw_record_inside(record);
  const CwField *field = field_at(record, index);
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

/* Replaces the members that the table does not know; NULL for none. */
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

/* --- properties --- */

static void record_get_property(GObject *object, guint id, GValue *value, GParamSpec *pspec)
{
  CwRecord *record = CW_RECORD(object);
  const CwField *field = field_at(record, id - 1);
  const CwCell *cell = &cw_record_inside(record)->cells[id - 1];
  switch (field->type) {
  case CW_FIELD_NUMBER:
    g_value_set_double(value, cell->number);
    break;
  case CW_FIELD_INTEGER:
    g_value_set_int64(value, cell->integer);
    break;
  case CW_FIELD_BOOLEAN:
    g_value_set_boolean(value, cell->truth);
    break;
  case CW_FIELD_CHOICE:
    g_value_set_static_string(value, cell->choice < 0 ? NULL : field->choices[cell->choice].word);
    break;
  case CW_FIELD_TEXT:
  case CW_FIELD_ANYTHING:
    g_value_set_string(value, cell->text);
    break;
  case CW_FIELD_TEXTS:
    g_value_set_boxed(value, cell->texts);
    break;
  case CW_FIELD_RECORD:
    g_value_set_object(value, cell->record);
    break;
  case CW_FIELD_RECORDS:
    g_value_set_object(value, cell->records);
    break;
  default:
    g_value_set_boxed(value, cell->numbers);
    break;
  }
}

static void record_set_property(GObject *object, guint id, const GValue *value, GParamSpec *pspec)
{
  CwRecord *record = CW_RECORD(object);
  const CwField *field = field_at(record, id - 1);
  switch (field->type) {
  case CW_FIELD_NUMBER:
    cw_record_set_number(record, field->key, g_value_get_double(value));
    break;
  case CW_FIELD_INTEGER:
    cw_record_set_integer(record, field->key, g_value_get_int64(value));
    break;
  case CW_FIELD_BOOLEAN:
    cw_record_set_boolean(record, field->key, g_value_get_boolean(value));
    break;
  case CW_FIELD_TEXT:
  case CW_FIELD_CHOICE:
    cw_record_set_text(record, field->key, g_value_get_string(value));
    break;
  case CW_FIELD_TEXTS:
    cw_record_set_texts(record, field->key, g_value_get_boxed(value));
    break;
  case CW_FIELD_RECORD:
    cw_record_set_child(record, field->key, g_value_get_object(value));
    break;
  case CW_FIELD_RECORDS:
  case CW_FIELD_ANYTHING:
    G_OBJECT_WARN_INVALID_PROPERTY_ID(object, id, pspec);
    break;
  default:
    cw_record_set_numbers(record, field->key, g_value_get_boxed(value));
    break;
  }
}

static GParamSpec *property_of(const CwField *field)
{
  g_autofree char *name = g_strdelimit(g_strdup(field->key), "_", '-');
  const char *nick = field->label ? field->label : field->key, *blurb = field->meaning ? field->meaning : "";
  gboolean limits = cw_field_has_limits(field);
  GParamFlags flags = G_PARAM_READWRITE | G_PARAM_EXPLICIT_NOTIFY;
  switch (field->type) {
  case CW_FIELD_TEXT:
  case CW_FIELD_CHOICE:
    return g_param_spec_string(name, nick, blurb, field->initial_text, flags);
  case CW_FIELD_ANYTHING:
    return g_param_spec_string(name, nick, blurb, NULL, G_PARAM_READABLE | G_PARAM_EXPLICIT_NOTIFY);
  case CW_FIELD_NUMBER: {
    double least = limits ? field->least : -G_MAXDOUBLE, most = limits ? field->most : G_MAXDOUBLE;
    return g_param_spec_double(name, nick, blurb, least, most, CLAMP(field->initial, least, most), flags);
  }
  case CW_FIELD_INTEGER: /* no limits here: CW_NO_INTEGER must pass, and the setter knows them */
    return g_param_spec_int64(name, nick, blurb, G_MININT64, G_MAXINT64, (gint64)field->initial, flags);
  case CW_FIELD_BOOLEAN:
    return g_param_spec_boolean(name, nick, blurb, field->initial != 0, flags);
  case CW_FIELD_TEXTS:
    return g_param_spec_boxed(name, nick, blurb, G_TYPE_STRV, flags);
  case CW_FIELD_RECORD:
    return g_param_spec_object(name, nick, blurb, CW_TYPE_RECORD, flags);
  case CW_FIELD_RECORDS:
    return g_param_spec_object(name, nick, blurb, CW_TYPE_LIST, G_PARAM_READABLE | G_PARAM_EXPLICIT_NOTIFY);
  default:
    return g_param_spec_boxed(name, nick, blurb, CW_TYPE_NUMBERS, flags);
  }
}

/* Makes a kind of its table; called once, from the class's initialisation. The table must outlive the class.
 */
void cw_record_class_install(CwRecordClass *klass, const CwField *fields, guint n_fields)
{
  G_OBJECT_CLASS(klass)->get_property = record_get_property; /* these two are not inherited */
  G_OBJECT_CLASS(klass)->set_property = record_set_property;
  klass->fields = fields;
  klass->n_fields = n_fields;
  klass->index_by_key = g_hash_table_new(g_str_hash, g_str_equal);
  klass->properties = g_new0(GParamSpec *, n_fields);
  for (guint i = 0; i < n_fields; i++) {
    g_assert(!g_hash_table_contains(klass->index_by_key, fields[i].key));
    g_hash_table_insert(klass->index_by_key, (gpointer)fields[i].key, GUINT_TO_POINTER(i + 1));
    klass->properties[i] = property_of(&fields[i]);
    g_object_class_install_property(G_OBJECT_CLASS(klass), i + 1, klass->properties[i]);
  }
}

static void cw_record_class_init(CwRecordClass *klass)
{
  GObjectClass *object_class = G_OBJECT_CLASS(klass);
  object_class->constructed = record_constructed;
  object_class->finalize = record_finalize;
  changed_signal =
      g_signal_new("changed", CW_TYPE_RECORD, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
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
    return g_strdup_printf("%" G_GINT64_FORMAT, cw_record_get_integer(record, field->key));
  return g_strdup(cw_record_get_text(record, field->key));
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
