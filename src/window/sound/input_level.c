/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/input_level.h"

#include "window/widgets/meter.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define QUIET_DBFS (-40.0)
#define FULL_DBFS (-1.0)

typedef struct {
  CwSoundRun *run;
  GtkWidget *meter, *words;
  double highest; /* of what came in since the recording began */
} Level;

static void say(Level *level)
{
  double db = 20 * log10(fmax(level->highest, 1e-6));
  g_autofree char *text = NULL;
  if (db >= FULL_DBFS)
    text = g_strdup(_("The input is full: turn the interface down, and record again."));
  else if (db < QUIET_DBFS)
    text = g_strdup_printf(_("%.0f dBFS: nothing comes in yet, or very little."), db);
  else
    text = g_strdup_printf(_("%.0f dBFS: good."), db);
  cw_show_text(level->words, text);
}

static void on_levels(CwSoundClient *client, const CwSoundLevels *levels, Level *level)
{
  if (!cw_sound_run_is_running(level->run))
    return;
  cw_meter_show(CW_METER(level->meter), &levels->input_peak);
  for (guint c = 0; c < levels->input_peak.count; c++)
    level->highest = fmax(level->highest, levels->input_peak.value[c]);
  say(level);
}

void cw_input_level_begin(GtkWidget *widget)
{
  ((Level *)g_object_get_data(G_OBJECT(widget), "level"))->highest = 0;
}

GtkWidget *cw_input_level_new(CwSoundDesk *desk, CwSoundRun *run, const char *words)
{
  Level *level = g_new0(Level, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 10);
  *level = (Level){.run = run, .meter = cw_meter_new(), .words = cw_dim_text(words)};
  gtk_widget_set_size_request(level->meter, 260, 44);
  gtk_widget_set_halign(level->meter, GTK_ALIGN_START);
  gtk_box_append(GTK_BOX(box), level->meter);
  gtk_box_append(GTK_BOX(box), level->words);
  g_object_set_data_full(G_OBJECT(box), "level", level, g_free);
  CwSoundClient *client = cw_sound_desk_get_client(desk);
  cw_disconnect_with(client, g_signal_connect(client, "levels", G_CALLBACK(on_levels), level), box);
  return box;
}
