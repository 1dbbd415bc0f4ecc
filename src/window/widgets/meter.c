/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/meter.h"

#include "plot/plot.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define LOW_DB (-60.0)
#define NEAR_FULL_DB (-6.0)
#define BARS_MOST 8
#define HOLD_US (2 * G_USEC_PER_SEC)
#define FALL_DB 3.0 /* a reading */

struct _CwMeter {
  GtkWidget parent_instance;
  guint bars;
  double level_db[BARS_MOST];
  double held_db[BARS_MOST];
  gint64 held_us[BARS_MOST];
  int told_db;
};

G_DEFINE_FINAL_TYPE(CwMeter, cw_meter, GTK_TYPE_WIDGET)

static double part_of(double db)
{
  return CLAMP((db - LOW_DB) / -LOW_DB, 0, 1);
}

static void append_bar(GtkSnapshot *snapshot, double x, double y, double width, double height,
                       CwColour colour, double alpha)
{
  GdkRGBA fill = {(float)colour.red, (float)colour.green, (float)colour.blue, (float)alpha};
  graphene_rect_t rect = GRAPHENE_RECT_INIT((float)x, (float)y, (float)width, (float)height);
  if (width > 0)
    gtk_snapshot_append_color(snapshot, &fill, &rect);
}

static void meter_snapshot(GtkWidget *widget, GtkSnapshot *snapshot)
{
  CwMeter *meter = CW_METER(widget);
  double width = gtk_widget_get_width(widget), height = gtk_widget_get_height(widget);
  guint bars = MAX(meter->bars, 1);
  double gap = bars > 4 ? 1 : 3, bar = (height - gap * (bars - 1)) / bars,
         near_full = width * part_of(NEAR_FULL_DB);
  GdkRGBA ink;
  gtk_style_context_get_color(gtk_widget_get_style_context(widget), &ink);
  CwColour trough = {ink.red, ink.green, ink.blue};
  for (guint i = 0; i < bars; i++) {
    double y = i * (bar + gap);
    append_bar(snapshot, 0, y, width, bar, trough, 0.12);
    append_bar(snapshot, near_full, y, 1.5, bar, trough, 0.6);
    if (i >= meter->bars)
      continue;
    double level = width * part_of(meter->level_db[i]), held = width * part_of(meter->held_db[i]);
    append_bar(snapshot, 0, y, fmin(level, near_full), bar, cw_colour_green, 1);
    append_bar(snapshot, near_full, y, level - near_full, bar, cw_colour_vermilion, 1);
    if (held > 0)
      append_bar(snapshot, fmax(held - 2, 0), y, 2, bar, trough, 0.9);
  }
}

static void meter_measure(GtkWidget *widget, GtkOrientation orientation, int for_size, int *least,
                          int *natural, int *least_base, int *natural_base)
{
  *least = *natural = orientation == GTK_ORIENTATION_HORIZONTAL ? 150 : 26;
}

static void cw_meter_class_init(CwMeterClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS(klass);
  widget_class->snapshot = meter_snapshot;
  widget_class->measure = meter_measure;
  gtk_widget_class_set_accessible_role(widget_class, GTK_ACCESSIBLE_ROLE_METER);
  gtk_widget_class_set_css_name(widget_class, "meter");
}

static void cw_meter_init(CwMeter *meter)
{
  gtk_accessible_update_property(GTK_ACCESSIBLE(meter), GTK_ACCESSIBLE_PROPERTY_LABEL, _("Input level"),
                                 GTK_ACCESSIBLE_PROPERTY_VALUE_MIN, LOW_DB, GTK_ACCESSIBLE_PROPERTY_VALUE_MAX,
                                 0.0, -1);
}

GtkWidget *cw_meter_new(void)
{
  return g_object_new(CW_TYPE_METER, NULL);
}

static void tell_highest(CwMeter *meter)
{
  double highest = LOW_DB;
  for (guint i = 0; i < meter->bars; i++)
    highest = fmax(highest, meter->held_db[i]);
  int rounded = (int)(3 * round(highest / 3));
  if (rounded == meter->told_db)
    return;
  g_autofree char *words = g_strdup_printf(_("%d decibels below full scale"), -rounded);
  meter->told_db = rounded;
  gtk_accessible_update_property(GTK_ACCESSIBLE(meter), GTK_ACCESSIBLE_PROPERTY_VALUE_NOW, (double)rounded,
                                 GTK_ACCESSIBLE_PROPERTY_VALUE_TEXT, words, -1);
}

void cw_meter_show(CwMeter *meter, const CwChannelNumbers *peak)
{
  gint64 now = g_get_monotonic_time();
  if (peak)
    meter->bars = MIN(peak->count, BARS_MOST);
  for (guint i = 0; i < meter->bars; i++) {
    double db = peak && peak->value[i] > 0 ? 20 * log10(peak->value[i]) : -INFINITY;
    meter->level_db[i] = fmax(db, fmax(meter->level_db[i] - FALL_DB, LOW_DB));
    if (!peak)
      meter->level_db[i] = LOW_DB;
    if (db >= meter->held_db[i] || now - meter->held_us[i] > HOLD_US) {
      meter->held_db[i] = fmax(db, LOW_DB);
      meter->held_us[i] = now;
    }
  }
  tell_highest(meter);
  gtk_widget_queue_draw(GTK_WIDGET(meter));
}
