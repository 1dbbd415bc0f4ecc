/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The sections of an output or an input as rows that can be edited, each with why it is there. `chosen` is
 * called when a row is entered. */
typedef void (*CwSectionChosen)(CwRecord *section, gpointer data);

/* A table of an owner's filters, one a row; chosen(data) is called when a row takes the focus. */
GtkWidget *cw_section_table_new(CwSession *session, CwSectionChosen chosen, gpointer data);

/* The record whose sections are shown, NULL for none. */
void cw_section_table_set_owner(GtkWidget *table, CwRecord *owner);

/* Marks the row of a section. */
void cw_section_table_choose(GtkWidget *table, CwRecord *section);

G_END_DECLS
