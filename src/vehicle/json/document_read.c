/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/document.h"
#include "vehicle/json/json_scan.h"
#include "vehicle/json/json_write.h"
#include "vehicle/json/numbers_read.h"
#include "vehicle/record/record_private.h"

static CwRecord *read_record(CwScan *scan, GType kind, gboolean *nameless);

/* --- values --- */

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

static void read_children(CwScan *scan, const CwField *field, CwCell *cell)
{
  if (!cw_scan_begin_array(scan))
    return;
  g_autoptr(GPtrArray) nameless = g_ptr_array_new();
  while (cw_scan_next_item(scan)) {
    gboolean is_nameless = FALSE;
    g_autoptr(CwRecord) item = read_record(scan, field->child(), &is_nameless);
    if (!item)
      continue;
    cw_list_append(cell->records, item);
    if (is_nameless)
      g_ptr_array_add(nameless, item);
  }
  for (guint i = 0; i < nameless->len; i++) /* now that those are known which the document names */
    cw_list_identify(cell->records, g_ptr_array_index(nameless, i));
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
    value.number = cw_read_number(scan, field);
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
  case CW_FIELD_RECORD:
    if ((value.record = read_record(scan, field->child(), NULL)))
      cw_record_adopt(value.record, record);
    break;
  default:
    if (!(value.numbers = cw_read_numbers(scan, field)))
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
  if (cw_scan_null(scan)) {
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

/* The fields that must be there are, but for an identity that can be given; nameless may be NULL. */
static void check_seen(CwScan *scan, CwRecordClass *klass, const gboolean *seen, gboolean *nameless)
{
  for (guint i = 0; i < klass->n_fields; i++) {
    if (!(klass->fields[i].flags & CW_FIELD_REQUIRED) || seen[i])
      continue;
    if (nameless && (klass->fields[i].flags & CW_FIELD_FILLED))
      *nameless = TRUE;
    else
      cw_scan_fail_inside(scan, klass->fields[i].key, "is missing");
  }
}

/* Reads an object as a record of a kind; NULL on a fault. */
static CwRecord *read_record(CwScan *scan, GType kind, gboolean *nameless)
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
  check_seen(scan, klass, seen, nameless);
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
  g_autoptr(CwRecord) record = read_record(scan, kind, NULL);
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
