/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the table of a kind makes of a record: its cells, and a property for each. */
#include "vehicle/record/record_private.h"
#include "vehicle/record/value.h"

static const CwField *field_at(CwRecord *record, guint index)
{
  return &CW_RECORD_GET_CLASS(record)->fields[index];
}

/* --- life --- */

static void record_constructed(GObject *object)
{
  CwRecord *record = CW_RECORD(object);
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  CwRecordPrivate *inside = cw_record_inside(record);
  G_OBJECT_CLASS(g_type_class_peek(CW_TYPE_RECORD))->constructed(object);
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
  G_OBJECT_CLASS(g_type_class_peek(CW_TYPE_RECORD))->finalize(object);
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
    cw_record_set_number_at(record, CW_RECORD_GET_CLASS(record)->first_field + id - 1,
                            g_value_get_double(value));
    break;
  case CW_FIELD_INTEGER:
    cw_record_set_integer_at(record, CW_RECORD_GET_CLASS(record)->first_field + id - 1,
                             g_value_get_int64(value));
    break;
  case CW_FIELD_BOOLEAN:
    cw_record_set_boolean_at(record, CW_RECORD_GET_CLASS(record)->first_field + id - 1,
                             g_value_get_boolean(value));
    break;
  case CW_FIELD_TEXT:
  case CW_FIELD_CHOICE:
    cw_record_set_text_at(record, CW_RECORD_GET_CLASS(record)->first_field + id - 1,
                          g_value_get_string(value));
    break;
  case CW_FIELD_TEXTS:
    cw_record_set_texts_at(record, CW_RECORD_GET_CLASS(record)->first_field + id - 1,
                           g_value_get_boxed(value));
    break;
  case CW_FIELD_RECORD:
    cw_record_set_child_at(record, CW_RECORD_GET_CLASS(record)->first_field + id - 1,
                           g_value_get_object(value));
    break;
  case CW_FIELD_RECORDS:
    G_OBJECT_WARN_INVALID_PROPERTY_ID(object, id, pspec);
    break;
  default:
    cw_record_set_numbers_at(record, CW_RECORD_GET_CLASS(record)->first_field + id - 1,
                             g_value_get_boxed(value));
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

void cw_record_class_install(CwRecordClass *klass, const CwField *fields, guint n_fields,
                             CwFieldId first_field)
{
  GObjectClass *object_class = G_OBJECT_CLASS(klass);
  object_class->constructed = record_constructed;
  object_class->finalize = record_finalize;
  object_class->get_property = record_get_property;
  object_class->set_property = record_set_property;
  klass->fields = fields;
  klass->n_fields = n_fields;
  klass->first_field = first_field;
  klass->index_by_key = g_hash_table_new(g_str_hash, g_str_equal);
  klass->properties = g_new0(GParamSpec *, n_fields);
  for (guint i = 0; i < n_fields; i++) {
    g_assert(!g_hash_table_contains(klass->index_by_key, fields[i].key));
    g_hash_table_insert(klass->index_by_key, (gpointer)fields[i].key, GUINT_TO_POINTER(i + 1));
    klass->properties[i] = property_of(&fields[i]);
    g_object_class_install_property(object_class, i + 1, klass->properties[i]);
  }
}
