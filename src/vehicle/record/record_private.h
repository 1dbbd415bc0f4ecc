/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* One value; which member counts is told by the field's type. */
typedef union {
  double number;
  gint64 integer;
  gboolean truth;
  int choice;
  char *text;         /* TEXT; ANYTHING: JSON, NULL for null */
  CwNumbers *numbers; /* never NULL */
  char **texts;       /* never NULL */
  CwRecord *record;
  CwList *records; /* never NULL */
} CwCell;

/* What a record holds besides its GObject. A snapshot has no parent, for it may be shared by several. */
typedef struct {
  CwRecord *parent;
  CwCell *cells;
  char *unknown;      /* members that the table does not know, as JSON without the braces, or NULL */
  CwRecord *snapshot; /* of a live record: its last snapshot, if nothing changed since. If it stands, so do
                         those below */
  char *json;         /* of a snapshot: its text, once it was asked for */
  gboolean frozen;
} CwRecordPrivate;

CwRecordPrivate *cw_record_inside(CwRecord *record);
void cw_record_adopt(CwRecord *record, CwRecord *parent);
void cw_record_release(CwRecord *record);
void cw_record_cell_changed(CwRecord *record, guint index);
void cw_record_forget_snapshots(CwRecord *record);
void cw_record_set_unknown(CwRecord *record, const char *unknown);
void cw_record_list_changed(CwRecord *record, CwList *list);
void cw_record_take_value(CwRecord *record, guint index, CwCell value);

void cw_record_append_json(GString *json, CwRecord *snapshot, const char *without_key);
void cw_record_append_item_json(GString *json, CwRecord *item);

void cw_cell_initialise(CwCell *cell, const CwField *field, CwRecord *owner);
void cw_cell_clear(CwCell *cell, const CwField *field);
CwRecord *cw_record_known_snapshot(CwRecord *record);
gboolean cw_cell_equal(const CwCell *one, const CwCell *other, const CwField *field);
void cw_cell_copy_value(CwCell *cell, const CwCell *source, const CwField *field);

CwList *cw_list_new(GType kind, CwRecord *owner);
CwList *cw_list_new_frozen(GType kind, GPtrArray *snapshots);
void cw_list_forget_owner(CwList *list);

G_END_DECLS
