/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/live_pane.h"

#include "window/live_ear.h"
#include "window/page.h"
#include "window/plot_view.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwLiveEar *ear;
  GtkWidget *plot;
  GtkWidget *listen;
} Pane;

static void add_line(CwPlot *plot, const char *label, guint count, const double *hz, const double *db,
                     CwColour colour, CwDash dash)
{
  CwSeries *series = cw_plot_add(plot, label, count, hz, db);
  series->colour = colour;
  series->dash = dash;
}

static void show(Pane *pane)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(pane->plot));
  g_autofree double *hz = NULL, *level = NULL, *peak = NULL;
  gboolean calibrated = cw_live_ear_is_calibrated(pane->ear);
  if (!gtk_widget_get_mapped(pane->plot))
    return;
  guint count = cw_live_ear_read(pane->ear, &hz, &level, &peak);
  cw_plot_clear(plot);
  add_line(plot, _("highest"), count, hz, peak, cw_colour_grey, CW_DASH_SHORT);
  add_line(plot, _("now"), count, hz, level, cw_colour_green, CW_DASH_SOLID);
  plot->y.name = calibrated ? _("Band level") : _("Band level below full scale");
  cw_plot_set_level_axis(plot, plot->y.name, "dB", calibrated ? 0 : -120, calibrated ? 120 : 0);
  cw_plot_view_update(CW_PLOT_VIEW(pane->plot));
}

static void on_toggled(Pane *pane)
{
  if (gtk_toggle_button_get_active(GTK_TOGGLE_BUTTON(pane->listen)))
    cw_live_ear_start(pane->ear);
  else
    cw_live_ear_stop(pane->ear);
}

static void show_state(Pane *pane)
{
  gboolean listening = cw_live_ear_is_listening(pane->ear);
  gtk_button_set_label(GTK_BUTTON(pane->listen), listening ? _("Stop listening") : _("Listen"));
  gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(pane->listen), listening);
}

static void pane_free(gpointer data)
{
  Pane *pane = data;
  g_signal_handlers_disconnect_by_data(pane->ear, pane);
  cw_live_ear_stop(pane->ear);
  g_object_unref(pane->ear);
  g_free(pane);
}

GtkWidget *cw_live_pane_new(CwSession *session, CwSoundDesk *desk)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6),
            *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  GtkWidget *reset = gtk_button_new_with_label(_("Forget the highest"));
  pane->ear = cw_live_ear_new(session, desk, CW_BALLISTICS_FAST);
  pane->listen = gtk_toggle_button_new_with_label(_("Listen"));
  pane->plot = cw_plot_view_new(_("Live spectrum"));
  gtk_box_append(GTK_BOX(row), pane->listen);
  gtk_box_append(GTK_BOX(row), reset);
  gtk_box_append(GTK_BOX(box), row);
  gtk_box_append(GTK_BOX(box), pane->plot);
  gtk_widget_set_margin_top(row, 6);
  gtk_widget_set_margin_start(row, 6);
  g_object_set_data_full(G_OBJECT(box), "pane", pane, pane_free);
  g_signal_connect_swapped(pane->listen, "toggled", G_CALLBACK(on_toggled), pane);
  g_signal_connect_object(reset, "clicked", G_CALLBACK(cw_live_ear_reset), pane->ear, G_CONNECT_SWAPPED);
  g_signal_connect_swapped(pane->ear, "heard", G_CALLBACK(show), pane);
  g_signal_connect_swapped(pane->ear, "changed", G_CALLBACK(show_state), pane);
  return box;
}
