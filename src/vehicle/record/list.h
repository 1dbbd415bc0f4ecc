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

guint cw_list_get_length(CwList *list);
CwRecord *cw_list_get(CwList *list, guint position);
GType cw_list_get_kind(CwList *list);
CwRecord *cw_list_find_integer_at(CwList *list, CwFieldId id, gint64 value);
CwRecord *cw_list_find_text_at(CwList *list, CwFieldId id, const char *value);
void cw_list_identify(CwList *list, CwRecord *record);
gboolean cw_list_find(CwList *list, CwRecord *record, guint *position);

CwRecord *cw_list_append_new(CwList *list);
void cw_list_append(CwList *list, CwRecord *record);
void cw_list_insert(CwList *list, guint position, CwRecord *record);
void cw_list_remove(CwList *list, guint position);
void cw_list_clear(CwList *list);
void cw_list_splice(CwList *list, guint position, guint n_removals, CwRecord *const *additions,
                    guint n_additions);

G_END_DECLS
