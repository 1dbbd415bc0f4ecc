/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/live_pane.h"

#include "signal/live_spectrum.h"
#include "window/page.h"
#include "window/plot_view.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define FRACTION 6
#define UPDATE_MS 60

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  GtkWidget *plot;
  GtkWidget *listen;
  CwLiveSpectrum *live;
  guint timeout;
  double full_scale_db; /* what a mean square of 1 is: dB SPL with a calibrated microphone, else 0 */
} Pane;

static void end(Pane *pane)
{
  g_clear_handle_id(&pane->timeout, g_source_remove);
  g_clear_pointer(&pane->live, cw_live_spectrum_free);
}

static void add_line(CwPlot *plot, const char *label, guint count, const double *hz, const double *db, CwColour colour, CwDash dash)
{
  CwSeries *series = cw_plot_add(plot, label, count, hz, db);
  series->colour = colour;
  series->dash = dash;
}

static gboolean show(gpointer data)
{
  Pane *pane = data;
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(pane->plot));
  guint count = (guint)cw_live_spectrum_band_count(pane->live);
  const CwBand *bands = cw_live_spectrum_bands(pane->live);
  g_autofree double *hz = g_new(double, count), *level = g_new(double, count), *peak = g_new(double, count);
  if (!cw_live_spectrum_update(pane->live) || !gtk_widget_get_mapped(pane->plot))
    return G_SOURCE_CONTINUE;
  cw_live_spectrum_read(pane->live, level, peak);
  for (guint i = 0; i < count; i++) {
    hz[i] = bands[i].centre_hz;
    level[i] += pane->full_scale_db;
    peak[i] += pane->full_scale_db;
  }
  cw_plot_clear(plot);
  add_line(plot, _("highest"), count, hz, peak, cw_colour_grey, CW_DASH_SHORT);
  add_line(plot, _("now"), count, hz, level, cw_colour_green, CW_DASH_SOLID);
  plot->y.name = pane->full_scale_db > 0 ? _("Band level") : _("Band level below full scale");
  cw_plot_set_level_axis(plot, plot->y.name, "dB", pane->full_scale_db > 0 ? 0 : -120, pane->full_scale_db > 0 ? 120 : 0);
  cw_plot_view_update(CW_PLOT_VIEW(pane->plot));
  return G_SOURCE_CONTINUE;
}

static void on_live_block(CwSoundClient *client, const CwAudioChunk *chunk, Pane *pane)
{
  if (pane->live && chunk->channels)
    cw_live_spectrum_push(pane->live, chunk->sample, chunk->channels, chunk->frames);
}

static void on_listening(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(GtkWidget) button = data;
  Pane *pane = g_object_get_data(G_OBJECT(button), "pane");
  g_autoptr(GError) error = NULL;
  gboolean listening = cw_sound_client_listen_finish(CW_SOUND_CLIENT(source), result, &error);
  if (listening || !pane)
    return;
  cw_session_tell(pane->session, CW_TOLD_FAILED, _("The microphone could not be heard: %s. Look at the device's cable, then try again."),
                  error->message);
  gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(button), FALSE);
}

static double full_scale_of(Pane *pane)
{
  CwRecord *vehicle = cw_session_get_vehicle(pane->session);
  CwRecord *microphone = vehicle ? cw_record_get_child(vehicle, "microphone") : NULL;
  double spl = microphone ? cw_record_get_number(microphone, "spl_at_full_scale") : (double)NAN;
  return isfinite(spl) ? spl + 3.0103 : 0; /* the sheet's is of a sine that fills the recorder: half a mean square of 1 */
}

static void begin(Pane *pane)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(pane->desk);
  CwSoundJob job;
  cw_sound_job_init(&job);
  job.device = cw_sound_desk_get_device(pane->desk);
  job.rate_hz = device ? device->rate_hz : 96000;
  job.inputs = device ? MIN(device->inputs, 2) : 2;
  pane->live = cw_live_spectrum_new(job.rate_hz, FRACTION, 20, 20000);
  pane->full_scale_db = full_scale_of(pane);
  pane->timeout = g_timeout_add(UPDATE_MS, show, pane);
  cw_sound_client_listen_async(cw_sound_desk_get_client(pane->desk), &job, NULL, on_listening, g_object_ref(pane->listen));
}

static void on_toggled(Pane *pane)
{
  gboolean active = gtk_toggle_button_get_active(GTK_TOGGLE_BUTTON(pane->listen));
  gtk_button_set_label(GTK_BUTTON(pane->listen), active ? _("Stop listening") : _("Listen"));
  if (active && !pane->live) {
    begin(pane);
  } else if (!active && pane->live) {
    cw_sound_client_unlisten(cw_sound_desk_get_client(pane->desk));
    end(pane);
  }
}

/* Another device, or Stop: listening ends. */
static void on_stop(Pane *pane)
{
  gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(pane->listen), FALSE);
}

static void on_reset(Pane *pane)
{
  if (pane->live)
    cw_live_spectrum_reset(pane->live);
}

static void pane_free(gpointer data)
{
  Pane *pane = data;
  end(pane);
  g_object_set_data(G_OBJECT(pane->listen), "pane", NULL);
  g_object_unref(pane->listen);
  g_object_unref(pane->desk);
  g_free(pane);
}

GtkWidget *cw_live_pane_new(CwSession *session, CwSoundDesk *desk)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6), *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  GtkWidget *reset = gtk_button_new_with_label(_("Forget the highest"));
  pane->session = session;
  pane->desk = g_object_ref(desk);
  pane->listen = g_object_ref_sink(gtk_toggle_button_new_with_label(_("Listen")));
  pane->plot = cw_plot_view_new(_("Live spectrum"));
  gtk_box_append(GTK_BOX(row), pane->listen);
  gtk_box_append(GTK_BOX(row), reset);
  gtk_box_append(GTK_BOX(box), row);
  gtk_box_append(GTK_BOX(box), pane->plot);
  gtk_widget_set_margin_top(row, 6);
  gtk_widget_set_margin_start(row, 6);
  g_object_set_data(G_OBJECT(pane->listen), "pane", pane);
  g_object_set_data_full(G_OBJECT(box), "pane", pane, pane_free);
  g_signal_connect_swapped(pane->listen, "toggled", G_CALLBACK(on_toggled), pane);
  g_signal_connect_swapped(reset, "clicked", G_CALLBACK(on_reset), pane);
  cw_connect_while_alive(desk, "stop-asked", G_CALLBACK(on_stop), pane, box);
  cw_disconnect_with(cw_sound_desk_get_client(desk),
                     g_signal_connect(cw_sound_desk_get_client(desk), "live-block", G_CALLBACK(on_live_block), pane), box);
  return box;
}
