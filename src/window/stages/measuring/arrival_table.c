/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/measuring/arrival_table.h"

#include "job/takes/arrivals.h"
#include "window/state/words.h"
#include "window/widgets/cell_table.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define PLACES_MS 0.35 /* by which a position's arrival may differ from the head's: a decimetre */

typedef struct {
  CwSession *session;
  GtkWidget *scrolled, *title, *cells;
  char *position;
} Table;

static void add_number(GtkWidget *cells, const char *format, double value)
{
  g_autofree char *text = isnan(value) ? g_strdup("–") : g_strdup_printf(format, value);
  cw_cell_table_add_text(cells, text);
}

/* How far sound and sheet are apart; in strong letters where the doubts do not cover it. */
static void add_difference(GtkWidget *cells, double difference_ms, double doubt_ms)
{
  g_autofree char *text = isnan(difference_ms) ? g_strdup("–") : g_strdup_printf("%+.2f", difference_ms);
  GtkWidget *label = gtk_label_new(text);
  gtk_label_set_xalign(GTK_LABEL(label), 1);
  gtk_widget_add_css_class(label, "numeric");
  if (fabs(difference_ms) > hypot(isnan(doubt_ms) ? 0 : doubt_ms, PLACES_MS)) {
    gtk_widget_add_css_class(label, "heading");
    gtk_widget_set_tooltip_text(label, _("More than the doubts of both allow"));
  }
  cw_cell_table_add(cells, label);
}

/* What the arrival rests on, in a word. */
static const char *say_by(CwRecord *take)
{
  if (!cw_take_has_arrival_by(take))
    return "";
  switch (cw_take_get_arrival_by(take)) {
  case CW_ARRIVAL_SOUND:
    return _("sound");
  case CW_ARRIVAL_DISTANCE:
    return _("sheet");
  case CW_ARRIVAL_HAND:
    return _("hand");
  default:
    return _("both");
  }
}

static void add_row(GtkWidget *cells, const CwExpectedArrival *one)
{
  double heard_ms = cw_take_get_arrival_ms(one->take),
         doubt_ms = 1e-3 * cw_take_get_arrival_doubt_us(one->take);
  g_autofree char *name = cw_say_speaker(one->speaker);

  cw_cell_table_add_text(cells, name);
  add_number(cells, "%.0f", one->sheet_cm);
  add_number(cells, "%.2f", one->expected_ms);
  add_number(cells, "%.2f", heard_ms);
  add_difference(cells, heard_ms - one->expected_ms, doubt_ms);
  add_number(cells, "±%.2f", doubt_ms);
  cw_cell_table_add_text(cells, say_by(one->take));
}

static void show_if_seen(Table *table)
{
  CwRecord *vehicle = cw_session_get_vehicle(table->session);

  if (!gtk_widget_get_mapped(table->scrolled))
    return;
  cw_cell_table_clear(table->cells);
  g_autoptr(GArray) list = vehicle && table->position ? cw_job_list_arrivals(vehicle, table->position) : NULL;
  for (guint i = 0; list && i < list->len; i++)
    add_row(table->cells, &g_array_index(list, CwExpectedArrival, i));
  g_autofree char *words =
      list && list->len
          ? g_strdup_printf(_("Arrivals at %s, in ms. Expected: by the sheet's distance to the middle of "
                              "the head; around it a few tenths more or less."),
                            table->position)
          : g_strdup(_("No timed takes at this position yet."));
  cw_show_text(table->title, words);
}

static void table_free(gpointer data)
{
  g_free(((Table *)data)->position);
  g_free(data);
}

GtkWidget *cw_arrival_table_new(CwSession *session)
{
  Table *table = g_new0(Table, 1);
  const char *const headings[] = {_("Speaker"),     _(">cm"), _(">Expected"), _(">Heard"),
                                  _(">Difference"), _(">Doubt"),     _("By"),        NULL};
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);

  table->session = session;
  table->scrolled = gtk_scrolled_window_new();
  gtk_widget_set_margin_start(box, 8);
  gtk_widget_set_margin_end(box, 8);
  gtk_widget_set_margin_top(box, 6);
  table->title = cw_dim_text(NULL);
  table->cells = cw_cell_table_new(headings);
  gtk_box_append(GTK_BOX(box), table->title);
  gtk_box_append(GTK_BOX(box), table->cells);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(table->scrolled), box);
  g_object_set_data_full(G_OBJECT(table->scrolled), "table", table, table_free);
  g_signal_connect_swapped(table->scrolled, "map", G_CALLBACK(show_if_seen), table);
  return table->scrolled;
}

void cw_arrival_table_show(GtkWidget *widget, const char *position)
{
  Table *table = g_object_get_data(G_OBJECT(widget), "table");

  if (g_strcmp0(table->position, position) != 0) {
    g_free(table->position);
    table->position = g_strdup(position);
  }
  show_if_seen(table);
}
