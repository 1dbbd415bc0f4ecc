/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/headroom_pane.h"

#include "job/tuning/loudness_limits.h"
#include "window/plots/plot_view.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define WAIT_MS 300 /* after the last change: it takes longer than a drag may wait */
#define SPAN_DB 50.0
#define PLOT_HEIGHT 240

typedef struct {
  CwSession *session;
  GtkWidget *box, *plot, *summary, *lines;
  guint waiting; /* source of the main loop; 0 for none */
} Pane;

static void draw(Pane *pane, const CwHeadroom *headroom)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(pane->plot));
  double hz[CW_HEADROOM_BANDS], most[CW_HEADROOM_BANDS], source[CW_HEADROOM_BANDS], top = -INFINITY;

  cw_plot_clear(plot);
  for (guint k = 0; k < CW_HEADROOM_BANDS; k++) {
    const CwHeadroomBand *band = &headroom->band[k];
    hz[k] = band->hz;
    most[k] = band->spl_db;
    source[k] = band->spl_db - fmin(band->headroom_db, 0);
    top = isfinite(source[k]) ? fmax(top, source[k]) : top;
  }
  CwSeries *series = cw_plot_add(plot, _("source"), CW_HEADROOM_BANDS, hz, source);
  series->colour = cw_colour_grey;
  series->dash = CW_DASH_SHORT;
  series = cw_plot_add(plot, _("loudest"), CW_HEADROOM_BANDS, hz, most);
  series->colour = cw_colour_purple;
  series->width = 2.25;
  top = isfinite(top) ? 10 * ceil((top + 2) / 10) : 120;
  cw_plot_set_level_axis(plot, _("Loudest at the seat"), "dB SPL", top - SPAN_DB, top);
  cw_plot_view_set_words(
      CW_PLOT_VIEW(pane->plot),
      _("The loudest sine in every third octave at the seat, and what the source alone would allow."));
  cw_plot_view_update(CW_PLOT_VIEW(pane->plot));
}

static gboolean compute(gpointer data)
{
  Pane *pane = data;
  CwProject *project = cw_session_get_project(pane->session);
  g_autoptr(GError) error = NULL;
  CwHeadroom headroom;

  pane->waiting = 0;
  if (!project || !gtk_widget_get_mapped(pane->box))
    return G_SOURCE_REMOVE;
  gboolean known = cw_job_headroom(project, cw_session_get_seat(pane->session), &headroom, &error);
  gtk_widget_set_visible(pane->plot, known);
  gtk_widget_set_visible(pane->lines, known);
  if (!known) {
    g_autofree char *why = g_strdup_printf(_("No headroom yet: %s."), error->message);
    cw_show_text(pane->summary, why);
    return G_SOURCE_REMOVE;
  }
  draw(pane, &headroom);
  g_autofree char *lines = cw_job_say_headroom(cw_session_get_vehicle(pane->session), &headroom);
  char *last = strrchr(lines, '\n');
  cw_show_text(pane->summary, last ? last + 1 : "");
  if (last)
    *last = 0;
  cw_show_text(pane->lines, lines);
  return G_SOURCE_REMOVE;
}

void cw_headroom_pane_refresh(GtkWidget *widget)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");

  if (pane->waiting)
    g_source_remove(pane->waiting);
  pane->waiting = g_timeout_add(WAIT_MS, compute, pane);
}

static void pane_free(gpointer data)
{
  Pane *pane = data;

  if (pane->waiting)
    g_source_remove(pane->waiting);
  g_free(pane);
}

GtkWidget *cw_headroom_pane_new(CwSession *session)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *scrolled = gtk_scrolled_window_new();

  pane->session = session;
  pane->box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
  pane->plot = cw_plot_view_new(_("Loudest at the seat"));
  pane->summary = cw_text(NULL);
  pane->lines = cw_dim_text(NULL);
  gtk_widget_set_size_request(pane->plot, -1, PLOT_HEIGHT);
  gtk_widget_add_css_class(pane->lines, "numeric");
  gtk_box_append(GTK_BOX(pane->box), pane->summary);
  gtk_box_append(GTK_BOX(pane->box), pane->plot);
  gtk_box_append(GTK_BOX(pane->box), pane->lines);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), pane->box);
  g_object_set_data_full(G_OBJECT(scrolled), "pane", pane, pane_free);
  g_signal_connect_after(scrolled, "map", G_CALLBACK(cw_headroom_pane_refresh), NULL);
  return scrolled;
}
