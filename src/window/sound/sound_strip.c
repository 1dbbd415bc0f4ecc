/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/sound_strip.h"

#include "window/widgets/meter.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  GtkWidget *strip;
  GtkWidget *devices;
  GtkWidget *practice_mark;
  GtkWidget *refresh;
  GtkWidget *playing;
  GtkWidget *progress;
  GtkWidget *level;
  GtkWidget *meter;
  GtkWidget *stop;
  gboolean filling;
} Strip;

static CwSoundClient *client_of(Strip *strip)
{
  return cw_sound_desk_get_client(strip->desk);
}

static gboolean is_sounding(Strip *strip)
{
  CwSoundState state = cw_sound_client_get_state(client_of(strip));
  return state == CW_SOUND_LOADING || state == CW_SOUND_PLAYING || state == CW_SOUND_FADING;
}

/* The list of devices; before it was ever read, the practice bay alone. */
static void fill_devices(Strip *strip)
{
  guint count, selected = GTK_INVALID_LIST_POSITION;
  const CwSoundDevice *devices = cw_sound_client_get_devices(client_of(strip), &count);
  g_autoptr(GtkStringList) names = gtk_string_list_new(NULL);
  strip->filling = TRUE;
  if (!count)
    gtk_string_list_append(names, _("Practice bay"));
  for (guint i = 0; i < count; i++) {
    gtk_string_list_append(names, devices[i].practice ? _("Practice bay") : devices[i].label);
    if (g_str_equal(devices[i].name, cw_sound_desk_get_device(strip->desk)))
      selected = i;
  }
  gtk_drop_down_set_model(GTK_DROP_DOWN(strip->devices), G_LIST_MODEL(names));
  gtk_drop_down_set_selected(GTK_DROP_DOWN(strip->devices), count ? selected : 0);
  strip->filling = FALSE;
}

static void on_device_selected(Strip *strip)
{
  guint count, selected = gtk_drop_down_get_selected(GTK_DROP_DOWN(strip->devices));
  const CwSoundDevice *devices = cw_sound_client_get_devices(client_of(strip), &count);
  if (!strip->filling && selected < count)
    cw_sound_desk_set_device(strip->desk, devices[selected].name);
}

static void on_refreshed(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(CwSession) session = data;
  g_autoptr(GError) error = NULL;
  if (!cw_sound_client_refresh_finish(CW_SOUND_CLIENT(source), result, &error))
    cw_session_tell(
        session, CW_TOLD_FAILED,
        _("The list of sound devices could not be read: %s. The practice bay is still there; try again."),
        error->message);
}

static void on_refresh(Strip *strip)
{
  cw_sound_client_refresh_async(client_of(strip), NULL, on_refreshed, g_object_ref(strip->session));
}

static void on_level_changed(Strip *strip)
{
  cw_sound_desk_set_level_dbfs(strip->desk, gtk_spin_button_get_value(GTK_SPIN_BUTTON(strip->level)));
}

static void show_desk(Strip *strip)
{
  gboolean practice = cw_sound_desk_is_practice(strip->desk);
  const char *words = cw_sound_desk_get_playing(strip->desk);
  gboolean busy = words || is_sounding(strip);
  gtk_widget_set_visible(strip->practice_mark, practice);
  cw_show_text(strip->playing, words ? words : _("Silent"));
  gtk_spin_button_set_value(GTK_SPIN_BUTTON(strip->level), cw_sound_desk_get_level_dbfs(strip->desk));
  gtk_widget_set_sensitive(strip->devices, !busy);
  gtk_widget_set_sensitive(strip->refresh, !busy);
  if (!busy) {
    gtk_progress_bar_set_fraction(GTK_PROGRESS_BAR(strip->progress), 0);
    cw_meter_show(CW_METER(strip->meter), NULL);
  }
  if (practice)
    gtk_widget_add_css_class(strip->strip, "practice");
  else
    gtk_widget_remove_css_class(strip->strip, "practice");
}

static void on_levels(CwSoundClient *client, const CwSoundLevels *levels, Strip *strip)
{
  cw_meter_show(CW_METER(strip->meter), &levels->input_peak);
  if (levels->total_frames)
    gtk_progress_bar_set_fraction(GTK_PROGRESS_BAR(strip->progress),
                                  MIN(1.0, (double)levels->position_frames / levels->total_frames));
}

/* A helper that fails while nothing is played has no other way to be heard. */
static void on_failed(CwSoundClient *client, const char *words, Strip *strip)
{
  cw_sound_desk_set_playing(strip->desk, NULL);
  cw_session_tell(strip->session, CW_TOLD_FAILED,
                  _("The sound stopped: %s. Nothing plays and no take was kept. Look at the device's cable, "
                    "then try again."),
                  words);
}

static void append_devices(Strip *strip)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  strip->practice_mark = gtk_label_new(_("PRACTICE"));
  gtk_widget_add_css_class(strip->practice_mark, "practice-mark");
  gtk_widget_set_tooltip_text(strip->practice_mark, _("A simulated vehicle: nothing real sounds."));
  strip->devices = gtk_drop_down_new(NULL, NULL);
  gtk_widget_set_size_request(strip->devices, 170, -1);
  cw_set_name(strip->devices, _("Sound device"));
  strip->refresh = gtk_button_new_from_icon_name("view-refresh-symbolic");
  gtk_widget_set_tooltip_text(strip->refresh, _("Look for devices again"));
  cw_set_name(strip->refresh, _("Look for devices again"));
  gtk_box_append(GTK_BOX(box), strip->practice_mark);
  gtk_box_append(GTK_BOX(box), strip->devices);
  gtk_box_append(GTK_BOX(box), strip->refresh);
  gtk_widget_set_valign(box, GTK_ALIGN_CENTER);
  gtk_box_append(GTK_BOX(strip->strip), box);
  g_signal_connect_swapped(strip->devices, "notify::selected", G_CALLBACK(on_device_selected), strip);
  g_signal_connect_swapped(strip->refresh, "clicked", G_CALLBACK(on_refresh), strip);
}

static void append_playing(Strip *strip)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 3);
  strip->playing = gtk_label_new(NULL);
  gtk_label_set_xalign(GTK_LABEL(strip->playing), 0);
  gtk_label_set_ellipsize(GTK_LABEL(strip->playing), PANGO_ELLIPSIZE_END);
  strip->progress = gtk_progress_bar_new();
  gtk_widget_set_hexpand(box, TRUE);
  gtk_widget_set_valign(box, GTK_ALIGN_CENTER);
  gtk_box_append(GTK_BOX(box), strip->playing);
  gtk_box_append(GTK_BOX(box), strip->progress);
  gtk_box_append(GTK_BOX(strip->strip), box);
  cw_set_name(strip->progress, _("How far"));
}

static void append_level(Strip *strip)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0),
            *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  g_autofree char *limit = g_strdup_printf(_("dBFS, limit %d"), (int)CW_DESK_LIMIT_DBFS);
  strip->level = gtk_spin_button_new_with_range(-60, CW_DESK_LIMIT_DBFS, 1);
  gtk_widget_set_tooltip_text(strip->level, _("Peak level of test signals. Begin quiet."));
  cw_set_name(strip->level, _("Level"));
  cw_read_from_left(strip->level);
  gtk_box_append(GTK_BOX(row), gtk_label_new(_("Level")));
  gtk_box_append(GTK_BOX(row), strip->level);
  GtkWidget *limit_label = gtk_label_new(limit);
  gtk_widget_add_css_class(limit_label, "dim-label");
  gtk_box_append(GTK_BOX(row), limit_label);
  gtk_box_append(GTK_BOX(box), row);
  gtk_widget_set_valign(box, GTK_ALIGN_CENTER);
  gtk_box_append(GTK_BOX(strip->strip), box);
  g_signal_connect_swapped(strip->level, "value-changed", G_CALLBACK(on_level_changed), strip);
}

static void append_meter_and_stop(Strip *strip)
{
  strip->meter = cw_meter_new();
  gtk_widget_set_valign(strip->meter, GTK_ALIGN_CENTER);
  gtk_widget_set_tooltip_text(strip->meter, _("What comes in: microphone above, loopback cable below"));
  strip->stop = gtk_button_new_with_label(_("Stop"));
  gtk_widget_set_tooltip_text(strip->stop, _("Silence at once (Escape)"));
  gtk_widget_add_css_class(strip->stop, "stop");
  gtk_widget_set_size_request(strip->stop, 110, 44);
  gtk_widget_set_valign(strip->stop, GTK_ALIGN_CENTER);
  gtk_box_append(GTK_BOX(strip->strip), strip->meter);
  gtk_box_append(GTK_BOX(strip->strip), strip->stop);
  g_signal_connect_swapped(strip->stop, "clicked", G_CALLBACK(cw_sound_desk_stop), strip->desk);
}

static void strip_free(gpointer data)
{
  Strip *strip = data;
  g_object_unref(strip->desk);
  g_free(strip);
}

GtkWidget *cw_sound_strip_new(CwSession *session, CwSoundDesk *desk)
{
  Strip *strip = g_new0(Strip, 1);
  strip->session = session;
  strip->desk = g_object_ref(desk);
  strip->strip = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 14);
  gtk_widget_add_css_class(strip->strip, "sound-strip");
  append_devices(strip);
  append_playing(strip);
  append_level(strip);
  append_meter_and_stop(strip);
  g_object_set_data_full(G_OBJECT(strip->strip), "strip", strip, strip_free);
  CwSoundClient *client = client_of(strip);
  cw_disconnect_with(client, g_signal_connect(client, "levels", G_CALLBACK(on_levels), strip), strip->strip);
  cw_disconnect_with(client, g_signal_connect(client, "failed", G_CALLBACK(on_failed), strip), strip->strip);
  cw_connect_while_alive(client, "devices-changed", G_CALLBACK(fill_devices), strip, strip->strip);
  cw_connect_while_alive(client, "state-changed", G_CALLBACK(show_desk), strip, strip->strip);
  cw_connect_while_alive(desk, "changed", G_CALLBACK(show_desk), strip, strip->strip);
  fill_devices(strip);
  show_desk(strip);
  return strip->strip;
}
