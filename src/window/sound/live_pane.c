/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/live_pane.h"

#include "signal/log_grid.h"
#include "window/plots/plot_view.h"
#include "window/sound/live_microphone.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define TARGET_LOW_HZ 100.0 /* between these the target is laid over what is heard */
#define TARGET_HIGH_HZ 8000.0
#define SURE_DB 1.0
#define LATE_SECONDS 0.5 /* a lag worth a word */

static const int fractions[] = {1, 2, 3, 6, 12, 24};
static const CwMeterWeighting weightings[] = {CW_METER_FLAT, CW_METER_A, CW_METER_C};
static const CwBallistics ballistics[] = {CW_BALLISTICS_FAST, CW_BALLISTICS_SLOW, CW_BALLISTICS_AVERAGE};

typedef struct {
  CwSession *session;
  CwLiveMicrophone *ear;
  GtkWidget *plot, *listen, *hold;
  GtkWidget *fraction, *weighting, *time, *input, *target;
  GtkWidget *level, *note;
  guint inputs; /* that can be chosen now */
} Pane;

static CwSeries *add_line(CwPlot *plot, const char *label, guint count, const double *hz, const double *db,
                          CwColour colour, CwDash dash)
{
  CwSeries *series = cw_plot_add(plot, label, count, hz, db);
  series->colour = colour;
  series->dash = dash;
  return series;
}

/* The sheet's target at the bands, at the level of what is heard; flat where the sheet has none. */
static void add_target(Pane *pane, CwPlot *plot, guint count, const double *hz, const double *level)
{
  CwRecord *vehicle = cw_session_get_vehicle(pane->session);
  const CwNumbers *curve = vehicle ? cw_vehicle_get_target(vehicle) : NULL;
  guint points = curve ? curve->n_rows : 0, used = 0;
  g_autofree double *target_hz = g_new(double, points + 1), *target_db = g_new(double, points + 1),
                    *line = g_new(double, count + 1);
  double raise = 0;
  for (guint i = 0; i < points; i++) {
    target_hz[i] = cw_numbers_at(curve, i, 0);
    target_db[i] = cw_numbers_at(curve, i, 1);
  }
  for (guint i = 0; i < count; i++) {
    line[i] = points ? cw_log_grid_interpolate(target_hz, target_db, points, hz[i]) : 0;
    if (hz[i] < TARGET_LOW_HZ || hz[i] > TARGET_HIGH_HZ || !isfinite(level[i]))
      continue;
    raise += level[i] - line[i];
    used++;
  }
  for (guint i = 0; i < count; i++)
    line[i] += used ? raise / used : (double)NAN;
  if (used)
    add_line(plot, _("target"), count, hz, line, cw_colour_blue, CW_DASH_DOT);
}

static char *say_level(Pane *pane)
{
  gboolean calibrated = cw_live_microphone_is_calibrated(pane->ear);
  double a = cw_live_microphone_read_level(pane->ear, CW_METER_A),
         c = cw_live_microphone_read_level(pane->ear, CW_METER_C),
         flat = cw_live_microphone_read_level(pane->ear, CW_METER_FLAT);
  if (calibrated && isfinite(a))
    return g_strdup_printf(_("%.1f dB(A), %.1f dB(C)"), a, c);
  return g_strdup_printf(calibrated ? _("%.1f dB SPL") : _("%.1f dB below full scale"),
                         calibrated ? flat : -flat);
}

/* The lowest band whose average of noise is sure by now: a level over T seconds wavers by 4.34 / sqrt(B T)
 * dB. */
static double sure_from_hz(CwHearing hearing, double seconds, guint count, const double *hz)
{
  for (guint i = 0; i < count; i++) {
    double width = hz[i] * (exp2(0.5 / hearing.fraction) - exp2(-0.5 / hearing.fraction));
    if (seconds > 0 && 4.343 / sqrt(width * seconds) <= SURE_DB)
      return hz[i];
  }
  return NAN;
}

static char *say_note(Pane *pane, guint count, const double *hz)
{
  CwHearing hearing = cw_live_microphone_get_hearing(pane->ear);
  double wait = cw_live_microphone_get_wait(pane->ear), seconds = cw_live_microphone_get_seconds(pane->ear),
         lag = cw_live_microphone_get_lag(pane->ear);
  double sure = sure_from_hz(hearing, seconds - lag, count, hz);
  if (gtk_toggle_button_get_active(GTK_TOGGLE_BUTTON(pane->hold)))
    return g_strdup(_("Held."));
  if (wait > 0)
    return g_strdup_printf(_("The lowest bands show in %.0f s: the narrower a band, the longer it takes."),
                           ceil(wait));
  if (hearing.ballistics == CW_BALLISTICS_AVERAGE && isfinite(sure))
    return g_strdup_printf(
        _("Average of %.0f s, with noise sure to 1 dB from %.0f Hz up. Move the microphone slowly."), seconds,
        sure);
  if (hearing.ballistics == CW_BALLISTICS_AVERAGE)
    return g_strdup_printf(_("Average of %.0f s."), seconds);
  return lag > LATE_SECONDS ? g_strdup_printf(_("The lowest band follows %.1f s late."), lag) : g_strdup("");
}

static void show(Pane *pane)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(pane->plot));
  g_autofree double *hz = NULL, *level = NULL, *peak = NULL;
  gboolean calibrated = cw_live_microphone_is_calibrated(pane->ear);
  if (!gtk_widget_get_mapped(pane->plot))
    return;
  guint count = cw_live_microphone_read(pane->ear, &hz, &level, &peak);
  g_autofree char *note = say_note(pane, count, hz), *words = say_level(pane);
  cw_show_text(pane->note, note);
  if (gtk_toggle_button_get_active(GTK_TOGGLE_BUTTON(pane->hold)))
    return;
  gtk_label_set_text(GTK_LABEL(pane->level), words);
  cw_plot_clear(plot);
  add_line(plot, _("highest"), count, hz, peak, cw_colour_grey, CW_DASH_SHORT);
  if (gtk_check_button_get_active(GTK_CHECK_BUTTON(pane->target)))
    add_target(pane, plot, count, hz, level);
  gboolean average = cw_live_microphone_get_hearing(pane->ear).ballistics == CW_BALLISTICS_AVERAGE;
  add_line(plot, average ? _("average") : _("now"), count, hz, level, cw_colour_green, CW_DASH_SOLID)->width =
      2;
  plot->y.name = calibrated ? _("Band level") : _("Band level below full scale");
  cw_plot_set_level_axis(plot, plot->y.name, "dB", calibrated ? 0 : -120, calibrated ? 120 : 0);
  cw_plot_view_update(CW_PLOT_VIEW(pane->plot));
}

static void on_toggled(Pane *pane)
{
  if (gtk_toggle_button_get_active(GTK_TOGGLE_BUTTON(pane->listen)))
    cw_live_microphone_start(pane->ear);
  else
    cw_live_microphone_stop(pane->ear);
}

/* Without an average the levels themselves go on: low bands would be blank for seconds. */
static void on_anew(Pane *pane)
{
  if (cw_live_microphone_get_hearing(pane->ear).ballistics == CW_BALLISTICS_AVERAGE)
    cw_live_microphone_begin_anew(pane->ear);
  else
    cw_live_microphone_forget_highest(pane->ear);
}

static guint chosen(GtkWidget *list, guint count)
{
  return MIN(gtk_drop_down_get_selected(GTK_DROP_DOWN(list)), count - 1);
}

static void on_chosen(Pane *pane)
{
  CwHearing hearing = {ballistics[chosen(pane->time, G_N_ELEMENTS(ballistics))],
                       fractions[chosen(pane->fraction, G_N_ELEMENTS(fractions))],
                       weightings[chosen(pane->weighting, G_N_ELEMENTS(weightings))],
                       chosen(pane->input, MAX(pane->inputs, 1))};
  cw_live_microphone_set_hearing(pane->ear, &hearing);
}

/* As many as the device has; the first is the microphone. */
static void fill_inputs(Pane *pane)
{
  guint inputs = cw_live_microphone_count_inputs(pane->ear);
  if (inputs == pane->inputs)
    return;
  g_autoptr(GtkStringList) names = gtk_string_list_new(NULL);
  pane->inputs = inputs;
  for (guint i = 0; i < MAX(inputs, 1); i++) {
    g_autofree char *name = i ? g_strdup_printf(_("Input %u"), i + 1) : g_strdup(_("Microphone"));
    gtk_string_list_append(names, name);
  }
  gtk_drop_down_set_model(GTK_DROP_DOWN(pane->input), G_LIST_MODEL(names));
}

static void show_state(Pane *pane)
{
  gboolean listening = cw_live_microphone_is_listening(pane->ear);
  gtk_button_set_label(GTK_BUTTON(pane->listen), listening ? _("Stop listening") : _("Listen"));
  gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(pane->listen), listening);
  gtk_widget_set_sensitive(pane->hold, listening);
  if (!listening) {
    gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(pane->hold), FALSE);
    cw_show_text(pane->note, NULL);
  }
}

static void pane_free(gpointer data)
{
  Pane *pane = data;
  g_signal_handlers_disconnect_by_data(pane->ear, pane);
  cw_live_microphone_stop(pane->ear);
  g_object_unref(pane->ear);
  g_free(pane);
}

static GtkWidget *new_list(Pane *pane, GtkWidget *row, const char *name, const char *const *words,
                           guint first)
{
  GtkWidget *list = gtk_drop_down_new_from_strings(words);
  gtk_drop_down_set_selected(GTK_DROP_DOWN(list), first);
  gtk_widget_set_tooltip_text(list, name);
  cw_set_name(list, name);
  gtk_box_append(GTK_BOX(row), list);
  g_signal_connect_swapped(list, "notify::selected", G_CALLBACK(on_chosen), pane);
  return list;
}

static GtkWidget *new_buttons(Pane *pane)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  GtkWidget *anew = gtk_button_new_with_label(_("Begin anew"));
  pane->listen = gtk_toggle_button_new_with_label(_("Listen"));
  pane->hold = gtk_toggle_button_new_with_label(_("Hold"));
  pane->level = cw_text(NULL);
  gtk_widget_set_tooltip_text(pane->hold, _("The picture stays as it is"));
  gtk_widget_set_tooltip_text(anew, _("Forgets the highest levels and begins the average afresh"));
  gtk_widget_set_hexpand(pane->level, TRUE);
  gtk_label_set_xalign(GTK_LABEL(pane->level), 1);
  gtk_label_set_wrap(GTK_LABEL(pane->level), FALSE);
  GtkWidget *parts[] = {pane->listen, pane->hold, anew, pane->level};
  for (guint i = 0; i < G_N_ELEMENTS(parts); i++)
    gtk_box_append(GTK_BOX(row), parts[i]);
  g_signal_connect_swapped(pane->listen, "toggled", G_CALLBACK(on_toggled), pane);
  g_signal_connect_swapped(pane->hold, "toggled", G_CALLBACK(show), pane);
  g_signal_connect_swapped(anew, "clicked", G_CALLBACK(on_anew), pane);
  return row;
}

static GtkWidget *new_choices(Pane *pane)
{
  /* Translators: widths of a band, in parts of an octave. */
  const char *const widths[] = {
      _("Octaves"), _("1/2 octave"), _("1/3 octave"), _("1/6 octave"), _("1/12 octave"), _("1/24 octave"),
      NULL};
  const char *const weights[] = {_("Flat"), _("A-weighted"), _("C-weighted"), NULL};
  const char *const times[] = {_("Fast"), _("Slow"), _("Average"), NULL};
  const char *const none[] = {NULL};
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  pane->fraction = new_list(pane, row, _("Width of the bands"), widths, 3);
  pane->weighting = new_list(pane, row, _("Weighting"), weights, 0);
  pane->time = new_list(pane, row, _("Time"), times, 0);
  pane->input = new_list(pane, row, _("Input"), none, 0);
  pane->target = gtk_check_button_new_with_label(_("Target"));
  gtk_widget_set_tooltip_text(pane->target, _("The sheet's target, at the level of what is heard"));
  gtk_box_append(GTK_BOX(row), pane->target);
  return row;
}

GtkWidget *cw_live_pane_new(CwSession *session, CwSoundDesk *desk)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
  pane->session = session;
  pane->ear = cw_live_microphone_new(session, desk, CW_BALLISTICS_FAST);
  pane->plot = cw_plot_view_new(_("Live spectrum"));
  pane->note = cw_dim_text(NULL);
  GtkWidget *parts[] = {new_buttons(pane), new_choices(pane), pane->plot, pane->note};
  for (guint i = 0; i < G_N_ELEMENTS(parts); i++) {
    gtk_box_append(GTK_BOX(box), parts[i]);
    gtk_widget_set_margin_start(parts[i], parts[i] == pane->plot ? 0 : 6);
  }
  gtk_widget_set_margin_top(parts[0], 6);
  gtk_widget_set_margin_end(parts[0], 6);
  fill_inputs(pane);
  show_state(pane);
  g_object_set_data_full(G_OBJECT(box), "pane", pane, pane_free);
  g_signal_connect_swapped(pane->ear, "heard", G_CALLBACK(show), pane);
  g_signal_connect_swapped(pane->ear, "changed", G_CALLBACK(show_state), pane);
  cw_disconnect_with(desk, g_signal_connect_swapped(desk, "changed", G_CALLBACK(fill_inputs), pane), box);
  return box;
}
