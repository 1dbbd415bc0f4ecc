/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/record/record_private.h"
#include "vehicle/record/value.h"

static CwRecord *copy_child(CwRecord *child)
{
  return child ? cw_record_copy(child) : NULL;
}

/* A live record with the same values as this one, a snapshot or not, and nothing in common with it; the
 * caller owns it. Tables of numbers are shared, so that this is cheap. */
CwRecord *cw_record_copy(CwRecord *record)
{
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  CwRecord *copy = cw_record_new(G_OBJECT_TYPE(record));
  CwRecordPrivate *from = cw_record_inside(record), *to = cw_record_inside(copy);
  for (guint i = 0; i < klass->n_fields; i++) {
    const CwField *field = &klass->fields[i];
    if (field->type == CW_FIELD_RECORDS) {
      for (guint k = 0; k < cw_list_get_length(from->cells[i].records); k++) {
        g_autoptr(CwRecord) item = cw_record_copy(cw_list_get(from->cells[i].records, k));
        cw_list_append(to->cells[i].records, item);
      }
      continue;
    }
    cw_cell_clear(&to->cells[i], field);
    if (field->type == CW_FIELD_RECORD) {
      if ((to->cells[i].record = copy_child(from->cells[i].record)))
        cw_record_adopt(to->cells[i].record, copy);
    } else {
      cw_cell_copy_value(&to->cells[i], &from->cells[i], field);
    }
  }
  to->unknown = g_strdup(from->unknown);
  return copy;
}

static CwList *snapshot_list(CwList *list)
{
  guint n = cw_list_get_length(list);
  GPtrArray *snapshots = g_ptr_array_new_full(n, g_object_unref);
  for (guint i = 0; i < n; i++)
    g_ptr_array_add(snapshots, cw_record_snapshot(cw_list_get(list, i)));
  return cw_list_new_frozen(cw_list_get_kind(list), snapshots);
}

/* The record as it stands, never to change; the caller owns a reference. Parts that did not change since the
 * last snapshot are shared with it: a snapshot costs what changed. Any thread may read it. */
CwRecord *cw_record_snapshot(CwRecord *record)
{
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  CwRecordPrivate *from = cw_record_inside(record);
  if (from->frozen)
    return g_object_ref(record);
  if (from->snapshot)
    return g_object_ref(from->snapshot);
  CwRecord *snapshot = cw_record_new(G_OBJECT_TYPE(record));
  CwRecordPrivate *to = cw_record_inside(snapshot);
  for (guint i = 0; i < klass->n_fields; i++) {
    const CwField *field = &klass->fields[i];
    cw_cell_clear(&to->cells[i], field);
    if (field->type == CW_FIELD_RECORDS)
      to->cells[i].records = snapshot_list(from->cells[i].records);
    else if (field->type == CW_FIELD_RECORD)
      to->cells[i].record = from->cells[i].record ? cw_record_snapshot(from->cells[i].record) : NULL;
    else
      cw_cell_copy_value(&to->cells[i], &from->cells[i], field);
  }
  to->unknown = g_strdup(from->unknown);
  to->frozen = TRUE;
  from->snapshot = g_object_ref(snapshot);
  return snapshot;
}

/* The items of a list by identity, each pointing into it; NULL if the kind has no identity. */
static GHashTable *items_by_identity(CwList *list)
{
  if (!cw_list_get_length(list) || !cw_record_get_identity(cw_list_get(list, 0)))
    return NULL;
  GHashTable *items = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    CwRecord *item = cw_list_get(list, i);
    g_hash_table_insert(items, cw_record_say_identity(item), item);
  }
  return items;
}

/* What the list is to hold: its own items where they match one of the source, brought to it, and copies
 * elsewhere. */
static GPtrArray *matched_items(CwList *list, CwList *source)
{
  guint n = cw_list_get_length(source);
  GPtrArray *wanted = g_ptr_array_new_full(n, g_object_unref);
  g_autoptr(GHashTable) items = items_by_identity(list);
  for (guint i = 0; i < n; i++) {
    CwRecord *to = cw_list_get(source, i), *item = NULL;
    if (items) {
      g_autofree char *identity = cw_record_say_identity(to);
      item = g_hash_table_lookup(items, identity);
      g_hash_table_remove(items, identity);
    } else {
      item = cw_list_get(list, i);
    }
    if (item)
      cw_record_assign(item, to);
    g_ptr_array_add(wanted, item ? g_object_ref(item) : cw_record_copy(to));
  }
  return wanted;
}

static void assign_list(CwList *list, CwList *source)
{
  g_autoptr(GPtrArray) wanted = matched_items(list, source);
  guint n = cw_list_get_length(list), start = 0, end = 0;
  while (start < n && start < wanted->len && cw_list_get(list, start) == g_ptr_array_index(wanted, start))
    start++;
  while (end < n - start && end < wanted->len - start &&
         cw_list_get(list, n - 1 - end) == g_ptr_array_index(wanted, wanted->len - 1 - end))
    end++;
  cw_list_splice(list, start, n - start - end, (CwRecord *const *)wanted->pdata + start,
                 wanted->len - start - end);
}

static void assign_child(CwRecord *record, const CwField *field, CwRecord *source)
{
  CwRecord *child = cw_record_get_child_at(record, cw_record_field_id(record, field));
  if (child && source) {
    cw_record_assign(child, source);
  } else if (child != source) {
    g_autoptr(CwRecord) copy = copy_child(source);
    cw_record_set_child_at(record, cw_record_field_id(record, field), copy);
  }
}

/* Brings a live record to the values of another of its kind, in place: children of a list are matched by
 * their identity, or by their position if the kind has none, and stay the same objects. Only what differs is
 * set and notified. This is how undo, restore points and reading again change the vehicle. */
void cw_record_assign(CwRecord *record, CwRecord *source)
{
  g_return_if_fail(G_OBJECT_TYPE(record) == G_OBJECT_TYPE(source) && !cw_record_is_snapshot(record));
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  CwRecordPrivate *from = cw_record_inside(source);
  CwRecord *known = cw_record_known_snapshot(record);
  if (record == source || (known && known == cw_record_known_snapshot(source)))
    return;
  g_object_freeze_notify(G_OBJECT(record));
  for (guint i = 0; i < klass->n_fields; i++) {
    const CwField *field = &klass->fields[i];
    if (field->type == CW_FIELD_RECORDS) {
      assign_list(cw_record_get_children_at(record, cw_record_field_id(record, field)),
                  from->cells[i].records);
    } else if (field->type == CW_FIELD_RECORD) {
      assign_child(record, field, from->cells[i].record);
    } else {
      CwCell value = {0};
      cw_cell_copy_value(&value, &from->cells[i], field);
      cw_record_take_value(record, i, value);
    }
  }
  cw_record_set_unknown(record, from->unknown);
  g_object_thaw_notify(G_OBJECT(record));
}
