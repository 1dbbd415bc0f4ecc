/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The sections of an output or an input as rows that can be edited, each with why it is there. `chosen` is
 * called when a row is entered. */
typedef void (*CwSectionChosen)(CwRecord *section, gpointer data);

GtkWidget *cw_section_table_new(CwSession *session, CwSectionChosen chosen, gpointer data);
void cw_section_table_set_owner(GtkWidget *table, CwRecord *owner);
void cw_section_table_choose(GtkWidget *table, CwRecord *section);

G_END_DECLS
