/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* A plain table of words under headings. Headings that begin with ">" are of columns of numbers. */
GtkWidget *cw_cell_table_new(const char *const *headings);
void cw_cell_table_clear(GtkWidget *table);
void cw_cell_table_add_text(GtkWidget *table, const char *text);
void cw_cell_table_add(GtkWidget *table, GtkWidget *cell);

G_END_DECLS
