/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/cell_table.h"

#include "window/widgets/page.h"

#define LONG_TEXT 48 /* letters; longer cells wrap */

typedef struct {
  int columns;
  gboolean *numbers;
  int next; /* the cell that comes next, counted from the first below the headings */
} Cells;

static Cells *cells_of(GtkWidget *table)
{
  return g_object_get_data(G_OBJECT(table), "cells");
}

static void cells_free(gpointer data)
{
  g_free(((Cells *)data)->numbers);
  g_free(data);
}

GtkWidget *cw_cell_table_new(const char *const *headings)
{
  GtkWidget *table = gtk_grid_new();
  Cells *cells = g_new0(Cells, 1);
  cells->columns = (int)g_strv_length((char **)headings);
  cells->numbers = g_new0(gboolean, cells->columns);
  gtk_widget_add_css_class(table, "cells");
  gtk_grid_set_column_spacing(GTK_GRID(table), 16);
  gtk_grid_set_row_spacing(GTK_GRID(table), 5);
  g_object_set_data_full(G_OBJECT(table), "cells", cells, cells_free);
  for (int i = 0; i < cells->columns; i++) {
    cells->numbers[i] = headings[i][0] == '>';
    GtkWidget *heading = cw_heading(headings[i] + (cells->numbers[i] ? 1 : 0));
    gtk_label_set_xalign(GTK_LABEL(heading), cells->numbers[i] ? 1 : 0);
    gtk_grid_attach(GTK_GRID(table), heading, i, 0, 1, 1);
  }
  return table;
}

/* Takes every row but the headings away. */
void cw_cell_table_clear(GtkWidget *table)
{
  Cells *cells = cells_of(table);
  int rows = (cells->next + cells->columns - 1) / cells->columns;
  for (int row = rows; row >= 1; row--)
    gtk_grid_remove_row(GTK_GRID(table), row);
  cells->next = 0;
}

/* Puts a widget in the next cell, row by row. */
void cw_cell_table_add(GtkWidget *table, GtkWidget *cell)
{
  Cells *cells = cells_of(table);
  gtk_widget_set_valign(cell, GTK_ALIGN_CENTER);
  gtk_grid_attach(GTK_GRID(table), cell, cells->next % cells->columns, 1 + cells->next / cells->columns, 1,
                  1);
  cells->next++;
}

void cw_cell_table_add_text(GtkWidget *table, const char *text)
{
  Cells *cells = cells_of(table);
  gboolean number = cells->numbers[cells->next % cells->columns];
  GtkWidget *label = gtk_label_new(text);
  gtk_label_set_xalign(GTK_LABEL(label), number ? 1 : 0);
  if (g_utf8_strlen(text, -1) > LONG_TEXT) {
    gtk_label_set_wrap(GTK_LABEL(label), TRUE);
    gtk_label_set_max_width_chars(GTK_LABEL(label), LONG_TEXT);
  }
  if (number)
    gtk_widget_add_css_class(label, "numeric");
  cw_cell_table_add(table, label);
}
