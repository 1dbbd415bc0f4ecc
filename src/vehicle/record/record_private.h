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
  char *text;         /* never NULL */
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

/* The record's own store; for the files of this room that read, write, copy and compare. */
CwRecordPrivate *cw_record_inside(CwRecord *record);

/* Makes the record known as a part of parent. A record is a part of one other at most. */
void cw_record_adopt(CwRecord *record, CwRecord *parent);
void cw_record_release(CwRecord *record);

/* The value of a field has changed: tells whoever watches. */
void cw_record_cell_changed(CwRecord *record, guint index);

/* The record is no longer as its snapshot has it, and so is all that it is a part of. To be called before
 * anybody is told of a change, for who is told may take a snapshot. */
void cw_record_forget_snapshots(CwRecord *record);

/* Replaces the members that the table does not know; NULL for none. */
void cw_record_set_unknown(CwRecord *record, const char *unknown);

/* A list of the record has got or lost items. */
void cw_record_list_changed(CwRecord *record, CwList *list);

/* Puts a value that is no record in place of the field's, if it differs; takes what the value holds. */
void cw_record_take_value(CwRecord *record, guint index, CwCell value);

/* Adds a record's JSON, without the member of one key if that is not NULL. */
void cw_record_append_json(GString *json, CwRecord *snapshot, const char *without_key);

/* Writes an item of a list. A snapshot keeps its items' texts: a take's is long, and most takes stay as they
 * are from one commit to the next. Two threads may write the same snapshot, so the first text to be there is
 * the one that stays. */
void cw_record_append_item_json(GString *json, CwRecord *item);

/* Gives a cell the value that its field starts with. Only records and lists of records know their owner. */
void cw_cell_initialise(CwCell *cell, const CwField *field, CwRecord *owner);

/* Frees what a cell holds and leaves it empty. */
void cw_cell_clear(CwCell *cell, const CwField *field);

/* The snapshot that stands for a record if there is one: equal ones need no look inside. */
CwRecord *cw_record_known_snapshot(CwRecord *record);

/* TRUE if both cells hold the same value; NaN is equal to NaN, and 0 to -0 is not, for they are written
 * differently. */
gboolean cw_cell_equal(const CwCell *one, const CwCell *other, const CwField *field);

/* Copies a value that is no record; the cell must be empty. */
void cw_cell_copy_value(CwCell *cell, const CwCell *source, const CwField *field);

/* An empty list for records of a kind, a part of owner. */
CwList *cw_list_new(GType kind, CwRecord *owner);

/* A list that never changes; takes the array of snapshots, which must free its items. */
CwList *cw_list_new_frozen(GType kind, GPtrArray *snapshots);

/* The owner goes; whoever still holds the list keeps its items as records of their own. */
void cw_list_forget_owner(CwList *list);

G_END_DECLS
