/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/field.h"
#include <gio/gio.h>

G_BEGIN_DECLS

typedef struct _CwRecord CwRecord;

/* The children of one field of a record, in order; a GListModel. Reading changes nothing inside, so that the
 * lists of a snapshot can be read from several threads at once (a GListStore rebalances its tree when read).
 */
#define CW_TYPE_LIST (cw_list_get_type())
G_DECLARE_FINAL_TYPE(CwList, cw_list, CW, LIST, GObject)

/* How many records there are. */
guint cw_list_get_length(CwList *list);

/* The record at a position, borrowed; NULL beyond the end. */
CwRecord *cw_list_get(CwList *list, guint position);

/* The kind of record that the list holds. */
GType cw_list_get_kind(CwList *list);

/* The first record whose whole number in a field is value, borrowed; NULL if there is none. */
CwRecord *cw_list_find_integer_at(CwList *list, CwFieldId id, gint64 value);

/* The first record whose text in a field is value, borrowed; NULL if there is none. */
CwRecord *cw_list_find_text_at(CwList *list, CwFieldId id, const char *value);

/* Gives a record that is to join the list, or has, an identity that no other item has: the least number that
 * is free, or the text that the field starts with, numbered from the second on. */
void cw_list_identify(CwList *list, CwRecord *record);

/* TRUE, and the position, if the record is in the list. */
gboolean cw_list_find(CwList *list, CwRecord *record, guint *position);

/* Puts a new record at the end; borrowed. */
CwRecord *cw_list_append_new(CwList *list);

/* Puts a record at the end. */
void cw_list_append(CwList *list, CwRecord *record);

/* Puts a record, which keeps the caller's reference too, at a position. */
void cw_list_insert(CwList *list, guint position, CwRecord *record);

/* Takes one record away. */
void cw_list_remove(CwList *list, guint position);

/* Takes all records away. */
void cw_list_clear(CwList *list);

/* Takes n_removals records away at position and puts n_additions there, as one change. An addition is of the
 * list's kind, and either no part of another record or among those that are taken away. */
void cw_list_splice(CwList *list, guint position, guint n_removals, CwRecord *const *additions,
                    guint n_additions);

G_END_DECLS
