/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/measuring/first_sound_pane.h"

#include "job/takes/arrivals.h"
#include "job/takes/curves.h"
#include "job/takes/positions.h"
#include "window/stages/measuring/edge_handle.h"
#include "window/state/words.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define BEFORE_MS 2.0
#define AFTER_MS 8.0
#define STEP_MS 0.01
#define BIG_STEP_MS 0.1
#define MOST_MS 10000.0

typedef struct {
  CwSession *session;
  GtkWidget *box, *plot, *handle, *number, *by_sound, *words;
  gint64 output; /* of the take that is shown; CW_NO_INTEGER for none */
  char *position;
  char *shown; /* which samples the plot was made of */
  gboolean showing;
} Pane;

static CwRecord *take_of(Pane *pane)
{
  CwRecord *vehicle = cw_session_get_vehicle(pane->session);
  return vehicle && pane->position
             ? cw_job_find_take(vehicle, pane->output, pane->position, CW_PURPOSE_TUNING)
             : NULL;
}

/* --- the plot --- */

/* A curve in time round the arrival, each to its own largest value. */
static void add_curve(Pane *pane, CwCurveKind kind, const char *label, CwColour colour, CwDash dash,
                      double from_ms, double to_ms)
{
  g_autoptr(CwCurve) curve =
      cw_job_curve(cw_session_get_project(pane->session), pane->output, pane->position, kind, NULL, NULL);
  guint first = 0, count = 0;
  double top = 0;

  for (guint i = 0; curve && i < curve->count; i++) {
    if (curve->x[i] < from_ms) {
      first = i + 1;
      continue;
    }
    if (curve->x[i] > to_ms)
      break;
    count++;
    top = fmax(top, fabs(curve->y[i]));
  }
  if (!count || !(top > 0))
    return;
  for (guint i = first; i < first + count; i++)
    curve->y[i] /= top;
  CwSeries *series = cw_plot_add(cw_plot_view_get_plot(CW_PLOT_VIEW(pane->plot)), label, count,
                                 curve->x + first, curve->y + first);
  series->colour = colour;
  series->dash = dash;
  series->width = kind == CW_CURVE_FIRST_SOUND ? 1.75 : 1;
}

static void show_axes(CwPlot *plot, double from_ms, double to_ms)
{
  if (plot->x.logarithmic || plot->x.low_all != from_ms || plot->x.high_all != to_ms)
    plot->x = (CwAxis){from_ms, to_ms, from_ms, to_ms, FALSE, "ms", ""};
  cw_plot_set_level_axis(plot, _("Part of the largest"), "", -1.1, 1.1);
}

static void show_plot(Pane *pane, CwRecord *take)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(pane->plot));
  double arrival_ms = take ? cw_take_get_arrival_ms(take) : NAN;
  double from_ms = floor((isnan(arrival_ms) ? 0 : arrival_ms) - BEFORE_MS),
         to_ms = from_ms + BEFORE_MS + AFTER_MS;
  g_autofree char *key = take ? g_strdup_printf("%s %g", cw_take_get_blob(take), from_ms) : NULL;
  CwRecord *speaker =
      take ? cw_vehicle_find_speaker(cw_session_get_vehicle(pane->session), pane->output) : NULL;

  if (g_strcmp0(key, pane->shown) == 0)
    return;
  g_free(pane->shown);
  pane->shown = g_steal_pointer(&key);
  cw_plot_clear(plot);
  show_axes(plot, from_ms, to_ms);
  if (take) {
    add_curve(pane, CW_CURVE_STEP, _("step"), cw_colour_grey, CW_DASH_LONG, from_ms, to_ms);
    add_curve(pane, CW_CURVE_IMPULSE, _("impulse"), cw_colour_grey, CW_DASH_SOLID, from_ms, to_ms);
    add_curve(pane, CW_CURVE_FIRST_SOUND, _("sounds"), speaker ? cw_speaker_colour(speaker) : cw_colour_green,
              CW_DASH_SOLID, from_ms, to_ms);
  }
  cw_plot_view_update(CW_PLOT_VIEW(pane->plot));
}

/* --- words and number --- */

static char *say_arrival(CwRecord *take)
{
  double doubt_us = take ? cw_take_get_arrival_doubt_us(take) : NAN;

  if (!take)
    return g_strdup(_("No accepted take here."));
  if (isnan(cw_take_get_arrival_ms(take)))
    return g_strdup(_("The take was not timed."));
  if (cw_take_get_arrival_by(take) == CW_ARRIVAL_HAND)
    return g_strdup(_("Set by hand."));
  if (isnan(doubt_us))
    return g_strdup_printf(_("By: %s."), cw_take_say_arrival_by(take));
  return g_strdup_printf(_("By: %s; 95 %% sure within ±%.2f ms."), cw_take_say_arrival_by(take),
                         1e-3 * doubt_us);
}

static void show(Pane *pane)
{
  CwRecord *take = take_of(pane);
  double arrival_ms = take ? cw_take_get_arrival_ms(take) : NAN;
  gboolean by_hand = take && cw_take_has_arrival_set_ms(take);
  g_autofree char *words = say_arrival(take);

  show_plot(pane, take);
  pane->showing = TRUE;
  gtk_spin_button_set_value(GTK_SPIN_BUTTON(pane->number), isnan(arrival_ms) ? 0 : arrival_ms);
  pane->showing = FALSE;
  gtk_widget_set_sensitive(pane->number, !isnan(arrival_ms));
  gtk_widget_set_sensitive(pane->by_sound, by_hand);
  cw_show_text(pane->words, words);
  cw_plot_view_set_words(CW_PLOT_VIEW(pane->plot), words);
  cw_edge_handle_show(CW_EDGE_HANDLE(pane->handle), arrival_ms,
                      take ? 1e-3 * cw_take_get_arrival_doubt_us(take) : NAN,
                      take ? cw_take_get_edges(take) : NULL);
}

static void show_if_seen(Pane *pane)
{
  if (gtk_widget_get_mapped(pane->box))
    show(pane);
}

/* --- by hand --- */

static void set_arrival(Pane *pane, double ms, const char *what)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *key = g_strdup_printf("arrival %d %s", (int)pane->output, pane->position);

  if (!cw_job_set_arrival(cw_session_get_vehicle(pane->session), pane->output, pane->position, ms, &error)) {
    cw_session_tell(pane->session, CW_TOLD_FAILED, _("%s. The arrival was not changed."), error->message);
    show(pane);
    return;
  }
  cw_session_commit_merging(pane->session, what, key);
  show(pane);
}

static void on_moved(Pane *pane, double ms)
{
  if (take_of(pane))
    set_arrival(pane, rint(ms / STEP_MS) * STEP_MS, _("Set an arrival by hand"));
}

static void on_number(Pane *pane)
{
  if (!pane->showing && take_of(pane))
    set_arrival(pane, gtk_spin_button_get_value(GTK_SPIN_BUTTON(pane->number)), _("Set an arrival by hand"));
}

static void on_by_sound(Pane *pane)
{
  if (take_of(pane))
    set_arrival(pane, NAN, _("Leave an arrival to the takes"));
}

/* --- making --- */

static GtkWidget *new_row(Pane *pane)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8);

  gtk_widget_set_margin_start(row, 6);
  gtk_widget_set_margin_end(row, 6);
  gtk_widget_set_margin_bottom(row, 6);
  pane->number = gtk_spin_button_new_with_range(-MOST_MS, MOST_MS, STEP_MS);
  gtk_spin_button_set_increments(GTK_SPIN_BUTTON(pane->number), STEP_MS, BIG_STEP_MS);
  gtk_spin_button_set_digits(GTK_SPIN_BUTTON(pane->number), 2);
  cw_set_name(pane->number, _("Arrival in milliseconds"));
  cw_read_from_left(pane->number);
  pane->by_sound = gtk_button_new_with_label(_("Leave it to the takes"));
  gtk_widget_set_tooltip_text(pane->by_sound, _("Takes the arrival that was set by hand back"));
  pane->words = cw_text(NULL);
  gtk_widget_set_hexpand(pane->words, TRUE);
  gtk_widget_set_valign(pane->words, GTK_ALIGN_CENTER);
  gtk_box_append(GTK_BOX(row), gtk_label_new(_("Arrival, ms")));
  gtk_box_append(GTK_BOX(row), pane->number);
  gtk_box_append(GTK_BOX(row), pane->words);
  gtk_box_append(GTK_BOX(row), pane->by_sound);
  g_signal_connect_swapped(pane->number, "value-changed", G_CALLBACK(on_number), pane);
  g_signal_connect_swapped(pane->by_sound, "clicked", G_CALLBACK(on_by_sound), pane);
  return row;
}

static void pane_free(gpointer data)
{
  Pane *pane = data;
  g_free(pane->position);
  g_free(pane->shown);
  g_free(pane);
}

GtkWidget *cw_first_sound_pane_new(CwSession *session)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *overlay = gtk_overlay_new();

  pane->session = session;
  pane->output = CW_NO_INTEGER;
  pane->box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
  pane->plot = cw_plot_view_new(_("First sound of the take"));
  show_axes(cw_plot_view_get_plot(CW_PLOT_VIEW(pane->plot)), 0, BEFORE_MS + AFTER_MS);
  pane->handle = cw_edge_handle_new(CW_PLOT_VIEW(pane->plot));
  gtk_overlay_set_child(GTK_OVERLAY(overlay), pane->plot);
  gtk_overlay_add_overlay(GTK_OVERLAY(overlay), pane->handle);
  gtk_box_append(GTK_BOX(pane->box), overlay);
  gtk_box_append(GTK_BOX(pane->box), new_row(pane));
  g_signal_connect_swapped(pane->handle, "moved", G_CALLBACK(on_moved), pane);
  g_signal_connect_swapped(pane->box, "map", G_CALLBACK(show_if_seen), pane);
  g_object_set_data_full(G_OBJECT(pane->box), "pane", pane, pane_free);
  return pane->box;
}

void cw_first_sound_pane_show(GtkWidget *widget, CwRecord *take)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");

  g_free(pane->position);
  pane->position = take ? g_strdup(cw_take_get_position(take)) : NULL;
  pane->output = take ? cw_take_get_output(take) : CW_NO_INTEGER;
  show_if_seen(pane);
}
