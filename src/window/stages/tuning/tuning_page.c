/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/tune.h"
#include "window/plots/plot_view.h"
#include "window/stages/stages.h"
#include "window/stages/tuning/comparison_choice.h"
#include "window/stages/tuning/headroom_pane.h"
#include "window/stages/tuning/output_curve.h"
#include "window/stages/tuning/output_list.h"
#include "window/stages/tuning/proposals_pane.h"
#include "window/stages/tuning/sum_plot.h"
#include "window/stages/tuning/target_pane.h"
#include "window/stages/tuning/voicing.h"
#include "window/widgets/seat_choice.h"
#include "window/widgets/worker.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  CwWorker *worker;
  CwPredictedCar *forecast;
  GPtrArray *seats; /* CwPredictedCar of every seat of the sheet */
  char *seat_names;
  CwOutputCurve *curve;
  CwFilterEditor *editor;
  GtkWidget *page;
  GtkWidget *propose;
  GtkWidget *sum;
  GtkWidget *solo, *before, *listen;
  CwLiveMicrophone *ear;
  gboolean predicted;
  GtkWidget *figures;
  GtkWidget *voicing, *proposals, *headroom;
  GtkWidget *target, *handles; /* the tab, and the points on the plot that belong to it */
} Tuning;

static void free_forecast(gpointer forecast)
{
  cw_predicted_car_free(forecast);
}

/* One forecast a seat, made again when the sheet names others. */
static void follow_seats(Tuning *tuning, CwRecord *vehicle)
{
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  g_autofree char *names = seats ? g_strjoinv("\n", (char **)seats) : g_strdup("");
  if (g_strcmp0(names, tuning->seat_names) == 0)
    return;
  g_ptr_array_set_size(tuning->seats, 0);
  for (guint i = 0; seats && seats[i]; i++)
    g_ptr_array_add(tuning->seats, cw_predicted_car_new(tuning->session, seats[i]));
  g_free(tuning->seat_names);
  tuning->seat_names = g_steal_pointer(&names);
}

/* The forecasts of the other seats that have takes; the array is the caller's. */
static GPtrArray *other_seats(Tuning *tuning)
{
  GPtrArray *others = g_ptr_array_new();
  for (guint i = 0; i < tuning->seats->len; i++) {
    CwPredictedCar *forecast = g_ptr_array_index(tuning->seats, i);
    if (!g_str_equal(cw_predicted_car_get_seat(forecast), cw_session_get_seat(tuning->session)) &&
        cw_predicted_car_update(forecast, NULL))
      g_ptr_array_add(others, forecast);
  }
  return others;
}

static void append_figures(GString *text, CwPredictedCar *forecast, double low_hz)
{
  double side_db, match_db;
  cw_sum_figures(forecast, low_hz, &side_db, &match_db);
  g_string_append_printf(
      text, _("%s, from %.0f Hz up: each side within %.1f dB of the target, left against right %.1f dB.  "),
      cw_predicted_car_get_seat(forecast), low_hz, side_db, match_db);
}

static void show_figures(Tuning *tuning, CwRecord *vehicle, gboolean predicted, const GPtrArray *others)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  const CwNumbers *figures = tune ? cw_tune_get_figures(tune) : NULL;
  g_autoptr(GString) text = g_string_new(NULL);
  if (!predicted || !tune || !cw_list_get_length(cw_tune_get_outputs(tune))) {
    cw_show_text(tuning->figures,
                 predicted ? _("No tune yet. The curves show the car as it was measured.") : "");
    return;
  }
  if (cw_session_get_solo(tuning->session)) {
    cw_show_text(tuning->figures,
                 _("Solo: what the chosen outputs do alone. Nothing is muted in the settings."));
    return;
  }
  double low_hz = cw_sum_figures_low_hz(vehicle);
  append_figures(text, tuning->forecast, low_hz);
  for (guint i = 0; i < others->len; i++)
    append_figures(text, g_ptr_array_index(others, i), low_hz);
  if (figures && figures->n_rows)
    g_string_append_printf(text, _("Lost in summing, as proposed: %.1f dB."),
                           cw_numbers_named(figures, "loss_db"));
  cw_show_text(tuning->figures, text->str);
}

static void refresh(gpointer data)
{
  Tuning *tuning = data;
  CwRecord *vehicle = cw_session_get_vehicle(tuning->session);
  g_autoptr(GError) error = NULL;
  cw_before_choice_refresh(tuning->before);
  gboolean with_before = cw_before_choice_is_on(tuning->before);
  cw_predicted_car_set_before(tuning->forecast, cw_before_choice_get_tune(tuning->before));
  follow_seats(tuning, vehicle);
  gboolean predicted = cw_predicted_car_update(tuning->forecast, &error);
  g_autoptr(GPtrArray) others = other_seats(tuning);
  g_autofree char *need = predicted ? NULL : g_strdup_printf(_("Tuning needs takes: %s."), error->message);
  cw_page_set_need(CW_PAGE(tuning->page), need, CW_STAGE_MEASURING);
  gtk_widget_set_sensitive(tuning->propose, predicted && !cw_worker_is_running(tuning->worker));
  gtk_widget_set_sensitive(tuning->solo, predicted);
  gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(tuning->solo), cw_session_get_solo(tuning->session));
  cw_output_curve_show(tuning->curve, predicted, with_before);
  cw_filter_editor_refresh(tuning->editor);
  cw_sum_plot_draw(CW_PLOT_VIEW(tuning->sum), tuning->forecast, predicted, with_before, others,
                   tuning->session);
  tuning->predicted = predicted;
  gtk_widget_set_sensitive(tuning->listen, predicted);
  if (predicted && cw_live_microphone_is_listening(tuning->ear))
    cw_sum_plot_draw_heard(CW_PLOT_VIEW(tuning->sum), tuning->forecast, tuning->ear);
  show_figures(tuning, vehicle, predicted, others);
  cw_voicing_refresh(tuning->voicing);
  cw_proposals_pane_refresh(tuning->proposals);
  cw_headroom_pane_refresh(tuning->headroom);
  cw_target_handles_show(CW_TARGET_HANDLES(tuning->handles),
                         predicted && gtk_widget_get_mapped(tuning->target));
  cw_target_pane_refresh(tuning->target);
}

static gboolean run(gpointer work, GCancellable *cancellable, CwProgress progress, gpointer data,
                    GError **error)
{
  return cw_tune_work_run(work, cancellable, progress, data, error);
}

static void store(gpointer work, CwProject *project)
{
  cw_tune_work_store(work, project, CW_PROPOSAL_CLOSEST);
}

static void free_work(gpointer work)
{
  cw_tune_work_free(work);
}

static const CwWorkKind proposal = {run, store, free_work, N_("Propose a tune"),
                                    N_("Tune ready. Undo restores the previous one.")};

/* For a seat, or for all of them with NULL. */
static void propose(Tuning *tuning, const char *seat)
{
  g_autoptr(GError) error = NULL;
  CwTuneWish wish = cw_proposals_pane_get_wish(tuning->proposals);
  CwTuneWork *work = cw_tune_work_new(cw_session_get_project(tuning->session), seat, &wish, &error);
  cw_tune_wish_clear(&wish);
  if (work)
    cw_worker_start(tuning->worker, &proposal, work, _("Reading the takes"));
  else
    cw_session_tell(tuning->session, CW_TOLD_FAILED, _("Tune failed: %s. The tune was not changed."),
                    error->message);
}

static void on_propose(Tuning *tuning)
{
  propose(tuning, cw_session_get_seat(tuning->session));
}

static void on_propose_all(Tuning *tuning)
{
  propose(tuning, NULL);
}

static void on_solo(Tuning *tuning)
{
  cw_session_set_solo(tuning->session, gtk_toggle_button_get_active(GTK_TOGGLE_BUTTON(tuning->solo)));
}

static void on_listen(Tuning *tuning)
{
  if (gtk_toggle_button_get_active(GTK_TOGGLE_BUTTON(tuning->listen)))
    cw_live_microphone_start(tuning->ear);
  else
    cw_live_microphone_stop(tuning->ear);
}

static void on_heard(Tuning *tuning)
{
  if (tuning->predicted && gtk_widget_get_mapped(tuning->sum))
    cw_sum_plot_draw_heard(CW_PLOT_VIEW(tuning->sum), tuning->forecast, tuning->ear);
}

static void on_ear_changed(Tuning *tuning)
{
  gboolean listening = cw_live_microphone_is_listening(tuning->ear);
  gtk_button_set_label(GTK_BUTTON(tuning->listen), listening ? _("Stop listening") : _("Listen"));
  gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(tuning->listen), listening);
  on_heard(tuning);
}

static void tuning_free(gpointer data)
{
  Tuning *tuning = data;
  cw_worker_cancel(tuning->worker);
  g_signal_handlers_disconnect_by_data(tuning->ear, tuning);
  cw_live_microphone_stop(tuning->ear);
  g_object_unref(tuning->ear);
  g_object_unref(tuning->worker);
  cw_filter_editor_free(tuning->editor);
  cw_output_curve_free(tuning->curve);
  cw_predicted_car_free(tuning->forecast);
  g_ptr_array_unref(tuning->seats);
  g_free(tuning->seat_names);
  g_free(tuning);
}

static GtkWidget *new_curves(Tuning *tuning)
{
  GtkWidget *curves = gtk_paned_new(GTK_ORIENTATION_VERTICAL);
  tuning->sum = cw_plot_view_new(_("Whole car at the seat"));
  cw_plot_view_get_plot(CW_PLOT_VIEW(tuning->sum))->label_letters_least = CW_EDITOR_LABEL_LETTERS;
  tuning->handles = cw_target_handles_new(tuning->session, CW_PLOT_VIEW(tuning->sum), tuning->forecast);
  GtkWidget *overlay = gtk_overlay_new();
  gtk_overlay_set_child(GTK_OVERLAY(overlay), tuning->sum);
  gtk_overlay_add_overlay(GTK_OVERLAY(overlay), tuning->handles);
  gtk_paned_set_start_child(GTK_PANED(curves), overlay);
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
  cw_add_tab(book, values, _("Output"));
  cw_add_tab(book, tuning->voicing, _("Voicing"));
  tuning->target = cw_target_pane_new(tuning->session, CW_TARGET_HANDLES(tuning->handles));
  gtk_widget_add_css_class(tuning->target, "tab");
  cw_add_tab(book, tuning->target, _("Target"));
  tuning->proposals = cw_proposals_pane_new(tuning->session);
  gtk_widget_add_css_class(tuning->proposals, "tab");
  cw_add_tab(book, tuning->proposals, _("Proposals"));
  tuning->headroom = cw_headroom_pane_new(tuning->session);
  gtk_widget_add_css_class(tuning->headroom, "tab");
  cw_add_tab(book, tuning->headroom, _("Headroom"));
  g_signal_connect_object(tuning->target, "map", G_CALLBACK(cw_page_refresh), tuning->page,
                          G_CONNECT_SWAPPED | G_CONNECT_AFTER);
  g_signal_connect_object(tuning->target, "unmap", G_CALLBACK(cw_page_refresh), tuning->page,
                          G_CONNECT_SWAPPED | G_CONNECT_AFTER);
  gtk_notebook_set_scrollable(GTK_NOTEBOOK(book), TRUE);
  gtk_widget_set_size_request(book, 446, -1);
  gtk_widget_set_hexpand(book, FALSE); /* room is for the curves */
  return book;
}

static GtkWidget *new_content(Tuning *tuning)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6),
            *middle = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 10);
  GtkWidget *left = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  tuning->before = cw_before_choice_new(tuning->session, refresh, tuning);
  tuning->solo = gtk_toggle_button_new_with_label(_("Solo"));
  gtk_widget_set_tooltip_text(tuning->solo,
                              _("What the chosen outputs do alone; the settings stay as they are"));
  tuning->listen = gtk_toggle_button_new_with_label(_("Listen"));
  gtk_widget_set_tooltip_text(
      tuning->listen,
      _("What the microphone hears now over what is predicted, while the radio plays pink noise; brought to "
        "the predicted level, so that shapes compare"));
  tuning->figures = cw_dim_text(NULL);
  gtk_box_append(GTK_BOX(left), cw_seat_choice_new(tuning->session));
  gtk_box_append(GTK_BOX(left), cw_output_list_new(tuning->session));
  gtk_box_append(GTK_BOX(left), tuning->solo);
  gtk_box_append(GTK_BOX(left), cw_dim_text(_("Compare with")));
  gtk_box_append(GTK_BOX(left), tuning->before);
  gtk_box_append(GTK_BOX(left), tuning->listen);
  gtk_box_append(GTK_BOX(middle), left);
  gtk_box_append(GTK_BOX(middle), new_curves(tuning));
  gtk_box_append(GTK_BOX(middle), new_values(tuning));
  gtk_widget_set_vexpand(middle, TRUE);
  gtk_box_append(GTK_BOX(box), cw_worker_bar_new(tuning->worker));
  gtk_box_append(GTK_BOX(box), middle);
  gtk_box_append(GTK_BOX(box), tuning->figures);
  g_signal_connect_swapped(tuning->solo, "toggled", G_CALLBACK(on_solo), tuning);
  g_signal_connect_swapped(tuning->listen, "toggled", G_CALLBACK(on_listen), tuning);
  g_signal_connect_swapped(tuning->ear, "heard", G_CALLBACK(on_heard), tuning);
  g_signal_connect_swapped(tuning->ear, "changed", G_CALLBACK(on_ear_changed), tuning);
  return box;
}

GtkWidget *cw_stage_tuning_new(CwSession *session, CwSoundDesk *desk)
{
  Tuning *tuning = g_new0(Tuning, 1);
  tuning->session = session;
  tuning->worker = cw_worker_new(session);
  tuning->ear = cw_live_microphone_new(session, desk, CW_BALLISTICS_SLOW);
  tuning->forecast = cw_predicted_car_new(session, NULL);
  tuning->seats = g_ptr_array_new_with_free_func(free_forecast);
  tuning->curve = cw_output_curve_new(session, tuning->forecast);
  tuning->editor = cw_filter_editor_new(session, &cw_output_filters, tuning->curve);
  tuning->page = cw_page_new(session, CW_STAGE_TUNING,
                             _("Speakers that add up at the seat, each brought to its target."));
  cw_page_set_content(CW_PAGE(tuning->page), new_content(tuning));
  GtkWidget *all =
      cw_page_add_button(CW_PAGE(tuning->page), _("For all _seats"), G_CALLBACK(on_propose_all), tuning);
  gtk_widget_set_tooltip_text(all, _("Propose a tune that serves every seat of the sheet"));
  tuning->propose =
      cw_page_add_main_button(CW_PAGE(tuning->page), _("_Propose a tune"), G_CALLBACK(on_propose), tuning);
  g_object_bind_property(tuning->propose, "sensitive", all, "sensitive", G_BINDING_SYNC_CREATE);
  cw_page_set_refresh(CW_PAGE(tuning->page), refresh, tuning, tuning_free);
  g_signal_connect_object(tuning->worker, "changed", G_CALLBACK(cw_page_refresh), tuning->page,
                          G_CONNECT_SWAPPED);
  return tuning->page;
}
