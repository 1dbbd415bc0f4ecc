/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/map/checked_by_hand.h"
#include "window/stages/stages.h"
#include "window/widgets/cell_table.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define NEAR_ENOUGH_DB 0.5

typedef struct {
  CwSession *session;
  GtkWidget *page, *table, *rows, *work_out;
  CwRecord *shown;
  char *shape;
} Levels;

static CwRecord *levels_of(Levels *levels)
{
  return cw_vehicle_get_levels(cw_session_get_vehicle(levels->session));
}

static void on_work_out(Levels *levels)
{
  cw_job_work_out_targets(cw_session_get_vehicle(levels->session));
  cw_session_commit(levels->session, _("Work out target voltages"));
}

static const char *say_verdict(double target_v, double read_v)
{
  double db = isfinite(read_v) && target_v > 0 && read_v > 0 ? 20 * log10(read_v / target_v) : (double)NAN;
  if (!isfinite(db))
    return _("set the gain, then enter what the meter reads");
  if (db > NEAR_ENOUGH_DB)
    return _("✗ too high: turn the gain down");
  return db < -NEAR_ENOUGH_DB ? _("too low: turn the gain up, or leave it if the source gives no more")
                              : _("✓ right");
}

static void show_verdict(GtkLabel *label)
{
  CwRecord *setting = g_object_get_data(G_OBJECT(label), "setting");
  gtk_label_set_text(
      label, say_verdict(cw_level_setting_get_target_v(setting), cw_level_setting_get_read_v(setting)));
}

static void show_target(GtkLabel *label)
{
  double target = cw_level_setting_get_target_v(g_object_get_data(G_OBJECT(label), "setting"));
  g_autofree char *text = isfinite(target) ? g_strdup_printf("%.2f V", target) : g_strdup("–");
  gtk_label_set_text(label, text);
}

static GtkWidget *new_following_label(CwRecord *setting, void (*show)(GtkLabel *label))
{
  GtkWidget *label = gtk_label_new(NULL);
  gtk_label_set_xalign(GTK_LABEL(label), 0);
  g_object_set_data_full(G_OBJECT(label), "setting", g_object_ref(setting), g_object_unref);
  cw_connect_while_alive(setting, "changed", G_CALLBACK(show), label, label);
  show(GTK_LABEL(label));
  return label;
}

static void build(Levels *levels, CwRecord *record)
{
  CwList *settings = cw_levels_get_settings(record);
  cw_cell_table_clear(levels->table);
  for (guint i = 0; i < cw_list_get_length(settings); i++) {
    CwRecord *setting = cw_list_get(settings, i);
    g_autofree char *channel = g_strdup_printf("%d", (int)cw_level_setting_get_channel(setting));
    cw_cell_table_add_text(levels->table, cw_level_setting_get_amplifier(setting));
    cw_cell_table_add_text(levels->table, channel);
    cw_cell_table_add(levels->table, new_following_label(setting, show_target));
    cw_cell_table_add(levels->table,
                      cw_value_input_new(levels->session, setting, CW_LEVEL_SETTING_FIELD_READ_V, 8));
    cw_cell_table_add(levels->table,
                      cw_value_input_new(levels->session, setting, CW_LEVEL_SETTING_FIELD_DONE, 0));
    cw_cell_table_add(levels->table, new_following_label(setting, show_verdict));
  }
}

static char *shape_of(CwRecord *record)
{
  CwList *settings = cw_levels_get_settings(record);
  GString *shape = g_string_new(NULL);
  for (guint i = 0; i < cw_list_get_length(settings); i++)
    g_string_append_printf(shape, "%p ", (void *)cw_list_get(settings, i));
  return g_string_free(shape, FALSE);
}

static void show_rows(Levels *levels, CwRecord *record)
{
  static const CwFieldId ids[] = {CW_LEVELS_FIELD_SOURCE_VOLUME_STEP, CW_LEVELS_FIELD_ALLOWANCE_DB,
                                  CW_LEVELS_FIELD_SOURCE_PEAK_V, CW_LEVELS_FIELD_NOISE_FLOOR_DBV};
  if (!g_set_object(&levels->shown, record))
    return;
  for (GtkWidget *child; (child = gtk_widget_get_first_child(levels->rows));)
    gtk_box_remove(GTK_BOX(levels->rows), child);
  for (guint i = 0; i < G_N_ELEMENTS(ids); i++)
    gtk_box_append(GTK_BOX(levels->rows),
                   cw_value_row_new(levels->session, record, cw_record_get_field_at(record, ids[i])));
}

static void refresh(gpointer data)
{
  Levels *levels = data;
  CwRecord *record = levels_of(levels);
  g_autofree char *shape = shape_of(record);
  gboolean empty = !cw_list_get_length(cw_vehicle_get_amplifiers(cw_session_get_vehicle(levels->session)));
  cw_page_set_need(CW_PAGE(levels->page),
                   empty ? _("Target voltages need the amplifiers that are fitted.") : NULL, CW_STAGE_SHEET);
  gtk_widget_set_sensitive(levels->work_out, !empty);
  show_rows(levels, record);
  if (g_strcmp0(shape, levels->shape) != 0) {
    g_free(levels->shape);
    levels->shape = g_steal_pointer(&shape);
    build(levels, record);
  }
  gtk_widget_set_visible(levels->table, cw_list_get_length(cw_levels_get_settings(record)) > 0);
}

static void levels_free(gpointer data)
{
  Levels *levels = data;
  g_clear_object(&levels->shown);
  g_free(levels->shape);
  g_free(levels);
}

GtkWidget *cw_stage_levels_new(CwSession *session, CwSoundDesk *desk)
{
  const char *const headings[] = {_("Amplifier"), _("Channel"), _("Target"), _("Meter reads"),
                                  _("Set"),       _("Verdict"), NULL};
  Levels *levels = g_new0(Levels, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 32),
            *left = gtk_box_new(GTK_ORIENTATION_VERTICAL, 12);
  GtkWidget *how = cw_text(_("Unplug the speakers, play the setting tone at the highest clean volume of the "
                             "source, and turn each gain until the meter reads the "
                             "target."));
  levels->session = session;
  levels->page = cw_page_new(session, CW_STAGE_LEVELS,
                             _("Nothing clips before the amplifier, and the amplifier where it is rated."));
  levels->table = cw_cell_table_new(headings);
  levels->rows = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
  gtk_label_set_max_width_chars(GTK_LABEL(how), 40);
  gtk_widget_set_valign(levels->table, GTK_ALIGN_START);
  gtk_widget_set_hexpand(left, FALSE);
  gtk_box_append(GTK_BOX(left), levels->rows);
  gtk_box_append(GTK_BOX(left), how);
  gtk_box_append(GTK_BOX(box), left);
  gtk_box_append(GTK_BOX(box), levels->table);
  levels->work_out = cw_page_add_main_button(CW_PAGE(levels->page), _("_Work out target voltages"),
                                             G_CALLBACK(on_work_out), levels);
  cw_page_set_content_scrolled(CW_PAGE(levels->page), box);
  cw_page_set_refresh(CW_PAGE(levels->page), refresh, levels, levels_free);
  return levels->page;
}
