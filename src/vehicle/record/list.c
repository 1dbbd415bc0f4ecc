/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/record/record_private.h"

struct _CwList {
  GObject parent_instance;
  GType kind;
  CwRecord *owner; /* NULL once the owner is gone, and for a snapshot */
  GPtrArray *items;
  gboolean frozen;
};

static GType list_get_item_type(GListModel *model)
{
  return CW_LIST(model)->kind;
}

static guint list_get_n_items(GListModel *model)
{
  return CW_LIST(model)->items->len;
}

static gpointer list_get_item(GListModel *model, guint position)
{
  CwList *list = CW_LIST(model);
  return position < list->items->len ? g_object_ref(g_ptr_array_index(list->items, position)) : NULL;
}

static void list_model_init(GListModelInterface *interface)
{
  interface->get_item_type = list_get_item_type;
  interface->get_n_items = list_get_n_items;
  interface->get_item = list_get_item;
}

G_DEFINE_FINAL_TYPE_WITH_CODE(CwList, cw_list, G_TYPE_OBJECT,
                              G_IMPLEMENT_INTERFACE(G_TYPE_LIST_MODEL, list_model_init))

static void release_all(CwList *list)
{
  for (guint i = 0; !list->frozen && i < list->items->len; i++)
    cw_record_release(g_ptr_array_index(list->items, i));
}

static void list_finalize(GObject *object)
{
  CwList *list = CW_LIST(object);
  release_all(list);
  g_ptr_array_unref(list->items);
  G_OBJECT_CLASS(cw_list_parent_class)->finalize(object);
}

static void cw_list_class_init(CwListClass *klass)
{
  G_OBJECT_CLASS(klass)->finalize = list_finalize;
}

static void cw_list_init(CwList *list)
{
  list->items = g_ptr_array_new_with_free_func(g_object_unref);
}

CwList *cw_list_new(GType kind, CwRecord *owner)
{
  CwList *list = g_object_new(CW_TYPE_LIST, NULL);
  list->kind = kind;
  list->owner = owner;
  return list;
}

CwList *cw_list_new_frozen(GType kind, GPtrArray *snapshots)
{
  CwList *list = cw_list_new(kind, NULL);
  g_ptr_array_unref(list->items);
  list->items = snapshots;
  list->frozen = TRUE;
  return list;
}

void cw_list_forget_owner(CwList *list)
{
  release_all(list);
  list->owner = NULL;
}

guint cw_list_get_length(CwList *list)
{
  g_return_val_if_fail(CW_IS_LIST(list), 0);
  return list->items->len;
}

CwRecord *cw_list_get(CwList *list, guint position)
{
  g_return_val_if_fail(CW_IS_LIST(list), NULL);
  return position < list->items->len ? g_ptr_array_index(list->items, position) : NULL;
}

GType cw_list_get_kind(CwList *list)
{
  return list->kind;
}

gboolean cw_list_find(CwList *list, CwRecord *record, guint *position)
{
  return g_ptr_array_find(list->items, record, position);
}

void cw_list_splice(CwList *list, guint position, guint n_removals, CwRecord *const *additions,
                    guint n_additions)
{
  g_return_if_fail(CW_IS_LIST(list) && !list->frozen);
  g_return_if_fail(position <= list->items->len && n_removals <= list->items->len - position);
  if (!n_removals && !n_additions)
    return;
  if (list->owner)
    cw_record_forget_snapshots(list->owner);
  for (guint i = 0; i < n_additions; i++) {
    g_return_if_fail(G_OBJECT_TYPE(additions[i]) == list->kind);
    g_object_ref(additions[i]);
  }
  for (guint i = 0; i < n_removals; i++)
    cw_record_release(g_ptr_array_index(list->items, position + i));
  if (n_removals)
    g_ptr_array_remove_range(list->items, position, n_removals);
  for (guint i = 0; i < n_additions; i++) {
    cw_record_adopt(additions[i], list->owner);
    g_ptr_array_insert(list->items, (int)(position + i), additions[i]);
  }
  g_list_model_items_changed(G_LIST_MODEL(list), position, n_removals, n_additions);
  if (list->owner)
    cw_record_list_changed(list->owner, list);
}

void cw_list_insert(CwList *list, guint position, CwRecord *record)
{
  cw_list_splice(list, position, 0, &record, 1);
}

void cw_list_append(CwList *list, CwRecord *record)
{
  cw_list_splice(list, cw_list_get_length(list), 0, &record, 1);
}

CwRecord *cw_list_append_new(CwList *list)
{
  CwRecord *record = cw_record_new(list->kind);
  cw_list_append(list, record);
  g_object_unref(record);
  return record;
}

void cw_list_remove(CwList *list, guint position)
{
  cw_list_splice(list, position, 1, NULL, 0);
}

void cw_list_clear(CwList *list)
{
  cw_list_splice(list, 0, cw_list_get_length(list), NULL, 0);
}
