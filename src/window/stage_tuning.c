/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tune.h"
#include "window/filter_editor.h"
#include "window/output_list.h"
#include "window/plot_view.h"
#include "window/seat_choice.h"
#include "window/stages.h"
#include "window/voicing.h"
#include "window/worker.h"

#include <glib/gi18n-lib.h>
#include <math.h>

typedef struct {
  CwSession *session;
  CwWorker *worker;
  CwForecast *forecast;
  CwFilterEditor *editor;
  GtkWidget *page;
  GtkWidget *propose;
  GtkWidget *sum;
  GtkWidget *before;
  GtkWidget *figures;
  GtkWidget *voicing;
} Tuning;

static CwSeries *add_sum(CwPlot *plot, const char *label, const double *hz, const double *db, CwColour colour, CwDash dash)
{
  double smooth[CW_PREDICTION_POINTS];
  cw_forecast_smooth(db, CW_SHOWN_PART_OF_OCTAVE, smooth);
  CwSeries *series = cw_plot_add(plot, label, CW_PREDICTION_POINTS, hz, smooth);
  series->colour = colour;
  series->dash = dash;
  return series;
}

static void add_target(CwPlot *plot, const double *hz, const double *target)
{
  g_autofree double *low = g_new(double, CW_PREDICTION_POINTS), *high = g_new(double, CW_PREDICTION_POINTS);
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++) {
    low[i] = target[i] - 3;
    high[i] = target[i] + 3;
  }
  CwSeries *band = cw_plot_add_band(plot, NULL, CW_PREDICTION_POINTS, hz, low, high);
  band->colour = cw_colour_green;
  band->alpha = 0.14;
  add_sum(plot, _("target"), hz, target, cw_colour_green, CW_DASH_DOT);
}

static void show_sum(Tuning *tuning, gboolean predicted)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(tuning->sum));
  cw_plot_clear(plot);
  plot->y.name = _("Whole car at the seat, predicted");
  if (predicted) {
    const double *hz = cw_forecast_hz(tuning->forecast);
    const double *both = cw_forecast_sum_db(tuning->forecast, CW_SUM_BOTH);
    double most = -INFINITY;
    add_target(plot, hz, cw_forecast_target_db(tuning->forecast));
    if (gtk_toggle_button_get_active(GTK_TOGGLE_BUTTON(tuning->before)))
      add_sum(plot, _("before"), hz, cw_forecast_sum_before_db(tuning->forecast, CW_SUM_BOTH), cw_colour_grey, CW_DASH_SOLID);
    add_sum(plot, _("left"), hz, cw_forecast_sum_db(tuning->forecast, CW_SUM_LEFT), cw_colour_sky, CW_DASH_LONG);
    add_sum(plot, _("right"), hz, cw_forecast_sum_db(tuning->forecast, CW_SUM_RIGHT), cw_colour_vermilion, CW_DASH_SHORT);
    add_sum(plot, _("both"), hz, both, cw_colour_purple, CW_DASH_SOLID)->width = 2.25;
    for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
      most = fmax(most, both[i]);
    most = 10 * ceil((most + 2) / 10);
    cw_plot_set_level_axis(plot, plot->y.name, "dB", most - 40, most);
  }
  cw_plot_view_set_words(CW_PLOT_VIEW(tuning->sum), _("The whole car at the seat as predicted: left, right and both together, and the target."));
  cw_plot_view_update(CW_PLOT_VIEW(tuning->sum));
}

static void show_figures(Tuning *tuning, CwRecord *vehicle)
{
  CwRecord *tune = cw_record_get_child(vehicle, "tune");
  const CwNumbers *figures = tune ? cw_record_get_numbers(tune, "figures") : NULL;
  g_autofree char *words = NULL;
  if (figures && figures->n_rows)
    words = g_strdup_printf(_("As proposed: each side within %.1f dB of the target, both together %.1f dB, left against right %.1f dB, lost in summing %.1f dB."),
                            cw_numbers_named(figures, "side_db"), cw_numbers_named(figures, "both_db"), cw_numbers_named(figures, "match_db"),
                            cw_numbers_named(figures, "loss_db"));
  gtk_label_set_text(GTK_LABEL(tuning->figures), words ? words : _("No tune yet. The curves show the car as it was measured."));
}

static void refresh(gpointer data)
{
  Tuning *tuning = data;
  CwRecord *vehicle = cw_session_get_vehicle(tuning->session);
  g_autoptr(GError) error = NULL;
  gboolean predicted = cw_forecast_update(tuning->forecast, &error);
  g_autofree char *need = predicted ? NULL : g_strdup_printf(_("Tuning needs takes: %s."), error->message);
  cw_page_set_need(CW_PAGE(tuning->page), need, CW_STAGE_MEASURING);
  gtk_widget_set_sensitive(tuning->propose, predicted && !cw_worker_is_running(tuning->worker));
  cw_filter_editor_refresh(tuning->editor, predicted);
  show_sum(tuning, predicted);
  show_figures(tuning, vehicle);
  cw_voicing_refresh(tuning->voicing);
}

static gboolean run(gpointer work, GCancellable *cancellable, CwProgress progress, gpointer data, GError **error)
{
  return cw_tune_work_run(work, cancellable, progress, data, error);
}

static void store(gpointer work, CwProject *project)
{
  cw_tune_work_store(work, project);
}

static void free_work(gpointer work)
{
  cw_tune_work_free(work);
}

static const CwWorkKind proposal = {run, store, free_work, N_("Propose a tune"), N_("The tune is there. Undo brings the one before back.")};

/* For a seat, or for all of them with NULL. */
static void propose(Tuning *tuning, const char *seat)
{
  g_autoptr(GError) error = NULL;
  CwTuneWork *work = cw_tune_work_new(cw_session_get_project(tuning->session), seat, &error);
  if (work)
    cw_worker_start(tuning->worker, &proposal, work, _("Reading the takes"));
  else
    cw_session_tell(tuning->session, CW_TOLD_FAILED, _("No tune: %s. The tune is as it was."), error->message);
}

static void on_propose(Tuning *tuning)
{
  propose(tuning, cw_session_get_seat(tuning->session));
}

static void on_propose_all(Tuning *tuning)
{
  propose(tuning, NULL);
}

static void tuning_free(gpointer data)
{
  Tuning *tuning = data;
  cw_worker_cancel(tuning->worker);
  g_object_unref(tuning->worker);
  cw_filter_editor_free(tuning->editor);
  cw_forecast_free(tuning->forecast);
  g_free(tuning);
}

static GtkWidget *new_curves(Tuning *tuning)
{
  GtkWidget *curves = gtk_paned_new(GTK_ORIENTATION_VERTICAL);
  tuning->sum = cw_plot_view_new(_("Whole car at the seat"));
  cw_plot_view_get_plot(CW_PLOT_VIEW(tuning->sum))->label_letters_least = CW_EDITOR_LABEL_LETTERS;
  gtk_paned_set_start_child(GTK_PANED(curves), tuning->sum);
  gtk_paned_set_end_child(GTK_PANED(curves), cw_filter_editor_get_curve(tuning->editor));
  gtk_paned_set_shrink_start_child(GTK_PANED(curves), FALSE);
  gtk_paned_set_shrink_end_child(GTK_PANED(curves), FALSE);
  gtk_widget_set_hexpand(curves, TRUE);
  return curves;
}

static GtkWidget *new_values(Tuning *tuning)
{
  GtkWidget *book = gtk_notebook_new(), *values = cw_filter_editor_get_values(tuning->editor);
  tuning->voicing = cw_voicing_new(tuning->session);
  gtk_widget_add_css_class(values, "tab");
  gtk_widget_add_css_class(tuning->voicing, "tab");
  gtk_notebook_append_page(GTK_NOTEBOOK(book), values, gtk_label_new(_("Output")));
  gtk_notebook_append_page(GTK_NOTEBOOK(book), tuning->voicing, gtk_label_new(_("Voicing")));
  gtk_widget_set_size_request(book, 446, -1);
  return book;
}

static GtkWidget *new_content(Tuning *tuning)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6), *middle = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 10);
  GtkWidget *left = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  tuning->before = gtk_toggle_button_new_with_label(_("Show before"));
  gtk_widget_set_tooltip_text(tuning->before, _("The whole car without any settings, in grey"));
  tuning->figures = cw_dim_text(NULL);
  gtk_box_append(GTK_BOX(left), cw_seat_choice_new(tuning->session));
  gtk_box_append(GTK_BOX(left), cw_output_list_new(tuning->session));
  gtk_box_append(GTK_BOX(left), tuning->before);
  gtk_box_append(GTK_BOX(middle), left);
  gtk_box_append(GTK_BOX(middle), new_curves(tuning));
  gtk_box_append(GTK_BOX(middle), new_values(tuning));
  gtk_widget_set_vexpand(middle, TRUE);
  gtk_box_append(GTK_BOX(box), cw_worker_bar_new(tuning->worker));
  gtk_box_append(GTK_BOX(box), middle);
  gtk_box_append(GTK_BOX(box), tuning->figures);
  g_signal_connect_swapped(tuning->before, "toggled", G_CALLBACK(refresh), tuning);
  return box;
}

GtkWidget *cw_stage_tuning_new(CwSession *session, CwSoundDesk *desk)
{
  Tuning *tuning = g_new0(Tuning, 1);
  tuning->session = session;
  tuning->worker = cw_worker_new(session);
  tuning->forecast = cw_forecast_new(session);
  tuning->editor = cw_filter_editor_new(session, tuning->forecast);
  tuning->page = cw_page_new(session, CW_STAGE_TUNING, _("Speakers that add up at the seat, each brought to its target."));
  cw_page_set_content(CW_PAGE(tuning->page), new_content(tuning));
  GtkWidget *all = cw_page_add_button(CW_PAGE(tuning->page), _("For all _seats"), G_CALLBACK(on_propose_all), tuning);
  gtk_widget_set_tooltip_text(all, _("Propose a tune that serves every seat of the sheet"));
  tuning->propose = cw_page_add_main_button(CW_PAGE(tuning->page), _("_Propose a tune"), G_CALLBACK(on_propose), tuning);
  g_object_bind_property(tuning->propose, "sensitive", all, "sensitive", G_BINDING_SYNC_CREATE);
  cw_page_set_refresh(CW_PAGE(tuning->page), refresh, tuning, tuning_free);
  g_signal_connect_object(tuning->worker, "changed", G_CALLBACK(cw_page_refresh), tuning->page, G_CONNECT_SWAPPED);
  return tuning->page;
}
