/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Rows in which a record is read and edited, made from its kind's table alone: any kind works. Every value
 * that is entered is one edit that can be undone; a wrong one is marked where it stands, with the reason, and
 * the record keeps the old. */
GtkWidget *cw_record_rows_new(CwSession *session, CwRecord *record);
GtkWidget *cw_record_list_new(CwSession *session, CwRecord *owner, const CwField *field);
void cw_record_list_add(GtkWidget *list);
GtkWidget *cw_record_rows_find_list(GtkWidget *rows, const char *key);
GtkWidget *cw_value_row_new(CwSession *session, CwRecord *record, const CwField *field);
GtkWidget *cw_value_input_new(CwSession *session, CwRecord *record, CwFieldId id, int width_chars);
char *cw_record_say_title(CwRecord *record);
void cw_record_commit_field(CwSession *session, CwRecord *record, const CwField *field);

G_END_DECLS
