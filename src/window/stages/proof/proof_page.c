/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/positions.h"
#include "window/plots/take_plots.h"
#include "window/sound/sound_permission.h"
#include "window/stages/proof/proof_recorder.h"
#include "window/stages/stages.h"
#include "window/widgets/cell_table.h"
#include "window/widgets/record_rows.h"
#include "window/widgets/seat_choice.h"

#include <glib/gi18n-lib.h>
#include <math.h>

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  CwProofRecorder *recorder;
  GtkWidget *page, *place, *board, *here, *all, *table, *plot, *listening;
  CwSoundPermission consent; /* that the settings are loaded */
  char *subject;             /* the row whose curves are shown */
  CwRecord *shown;
} Proof;

static void show_plot(Proof *proof, CwList *rows)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(proof->plot));
  CwRecord *row =
      proof->subject ? cw_list_find_text_at(rows, CW_PROOF_ROW_FIELD_SUBJECT, proof->subject) : NULL;
  if (!row && cw_list_get_length(rows))
    row = cw_list_get(rows, 0);
  cw_plot_clear(plot);
  plot->y.name = row ? cw_proof_row_get_subject(row) : "";
  const CwNumbers *predicted = row ? cw_proof_row_get_predicted(row) : NULL,
                  *spread = row ? cw_proof_row_get_spread(row) : NULL;
  if (predicted && spread && spread->n_rows == predicted->n_rows) {
    g_autofree double *hz = g_new(double, predicted->n_rows), *low = g_new(double, predicted->n_rows),
                      *high = g_new(double, predicted->n_rows);
    for (guint i = 0; i < predicted->n_rows; i++) {
      hz[i] = cw_numbers_at(predicted, i, 0);
      low[i] = cw_numbers_at(predicted, i, 1) - cw_numbers_at(spread, i, 1);
      high[i] = cw_numbers_at(predicted, i, 1) + cw_numbers_at(spread, i, 1);
    }
    cw_plot_add_band(plot, _("expected"), predicted->n_rows, hz, low, high)->colour = cw_colour_sky;
  }
  cw_plot_add_curve(plot, _("predicted"), predicted, cw_colour_blue, CW_DASH_LONG);
  cw_plot_add_curve(plot, _("measured"), row ? cw_proof_row_get_measured(row) : NULL, cw_colour_vermilion,
                    CW_DASH_SOLID);
  cw_plot_fit_level_axis(plot, 40, 10);
  cw_axis_show(&plot->y, fmax(plot->y.low_all, plot->y.high_all - 50), plot->y.high_all);
  cw_plot_view_set_words(CW_PLOT_VIEW(proof->plot),
                         _("Measured over predicted, with the spread that is expected."));
  cw_plot_view_update(CW_PLOT_VIEW(proof->plot));
}

static void on_show(GtkButton *button, Proof *proof)
{
  g_free(proof->subject);
  proof->subject = g_strdup(g_object_get_data(G_OBJECT(button), "subject"));
  show_plot(proof, cw_vehicle_get_proof(cw_session_get_vehicle(proof->session)));
}

static void add(GtkWidget *table, char *text)
{
  cw_cell_table_add_text(table, text);
  g_free(text);
}

static void show_rows(Proof *proof, CwList *rows)
{
  cw_cell_table_clear(proof->table);
  for (guint i = 0; i < cw_list_get_length(rows); i++) {
    CwRecord *row = cw_list_get(rows, i);
    double rms = cw_proof_row_get_rms_db(row), worst = cw_proof_row_get_worst_db(row);
    GtkWidget *show = gtk_button_new_with_label(_("Show"));
    g_autofree char *name = g_strdup_printf(_("Show %s"), cw_proof_row_get_subject(row));
    g_object_set_data_full(G_OBJECT(show), "subject", g_strdup(cw_proof_row_get_subject(row)), g_free);
    g_signal_connect(show, "clicked", G_CALLBACK(on_show), proof);
    cw_set_name(show, name);
    add(proof->table, g_strdup(cw_proof_row_get_subject(row)));
    add(proof->table, g_strdup(cw_proof_row_get_agrees(row) ? _("✓ as predicted") : _("✗ differs")));
    add(proof->table, isfinite(rms) ? g_strdup_printf("%.1f dB", rms) : g_strdup("–"));
    add(proof->table, isfinite(worst)
                          ? g_strdup_printf(_("%+.1f dB at %.0f Hz"), worst, cw_proof_row_get_worst_hz(row))
                          : g_strdup("–"));
    cw_cell_table_add(proof->table, show);
  }
  gtk_widget_set_visible(proof->table, cw_list_get_length(rows) > 0);
}

/* --- what is measured --- */

/* The measurements that are missing at the seat: at one position (the first that misses any) or at all. */
static GPtrArray *find_missing(Proof *proof, gboolean one_position)
{
  CwProject *project = cw_session_get_project(proof->session);
  g_auto(GStrv) positions =
      cw_job_positions(cw_project_get_vehicle(project), cw_session_get_seat(proof->session));
  GPtrArray *missing = cw_wanted_new();
  for (guint p = 0; positions[p] && !(one_position && missing->len); p++)
    for (int side = 0; side < CW_SUMS; side++)
      if (!cw_job_proof_has(project, (CwSum)side, positions[p]))
        cw_wanted_add(missing, (CwSum)side, positions[p]);
  return missing;
}

/* The choice of a position: the first that misses a measurement, or one by its number. */
static void fill_places(Proof *proof)
{
  g_auto(GStrv) positions =
      cw_job_positions(cw_session_get_vehicle(proof->session), cw_session_get_seat(proof->session));
  guint count = g_strv_length(positions), selected = gtk_drop_down_get_selected(GTK_DROP_DOWN(proof->place));
  GListModel *old = gtk_drop_down_get_model(GTK_DROP_DOWN(proof->place));
  if (old && g_list_model_get_n_items(old) == count + 1)
    return;
  g_autoptr(GtkStringList) words =
      gtk_string_list_new((const char *const[]){_("The first position that is missing"), NULL});
  for (guint p = 1; p <= count; p++) {
    g_autofree char *text = g_strdup_printf(_("Position %u"), p);
    gtk_string_list_append(words, text);
  }
  gtk_drop_down_set_model(GTK_DROP_DOWN(proof->place), G_LIST_MODEL(words));
  gtk_drop_down_set_selected(GTK_DROP_DOWN(proof->place), selected <= count ? selected : 0);
}

/* What is to be measured where the microphone stands: what is missing there, or all of it again at a position
 * that was named. */
static GPtrArray *find_wanted_here(Proof *proof)
{
  guint selected = gtk_drop_down_get_selected(GTK_DROP_DOWN(proof->place));
  g_auto(GStrv) positions =
      cw_job_positions(cw_session_get_vehicle(proof->session), cw_session_get_seat(proof->session));
  if (!selected || selected > g_strv_length(positions))
    return find_missing(proof, TRUE);
  GPtrArray *wanted = cw_wanted_new();
  for (int side = 0; side < CW_SUMS; side++)
    cw_wanted_add(wanted, (CwSum)side, positions[selected - 1]);
  return wanted;
}

/* One row an input, one mark a position. */
static void show_board(Proof *proof)
{
  const char *const inputs[CW_SUMS] = {_("left input"), _("right input"), _("both inputs")};
  CwProject *project = cw_session_get_project(proof->session);
  g_auto(GStrv) positions =
      cw_job_positions(cw_project_get_vehicle(project), cw_session_get_seat(proof->session));
  cw_cell_table_clear(proof->board);
  for (int side = 0; side < CW_SUMS; side++) {
    g_autoptr(GString) marks = g_string_new(NULL);
    guint measured = 0, count = g_strv_length(positions);
    for (guint p = 0; p < count; p++) {
      gboolean has = cw_job_proof_has(project, (CwSum)side, positions[p]);
      g_string_append(marks, has ? "✓ " : "· ");
      measured += has;
    }
    cw_cell_table_add_text(proof->board, inputs[side]);
    cw_cell_table_add_text(proof->board, marks->str);
    add(proof->board, g_strdup_printf(_("%u of %u positions"), measured, count));
  }
}

static void show_listening(Proof *proof, CwRecord *vehicle)
{
  if (!g_set_object(&proof->shown, vehicle))
    return;
  for (GtkWidget *child; (child = gtk_widget_get_first_child(proof->listening));)
    gtk_box_remove(GTK_BOX(proof->listening), child);
  gtk_box_append(GTK_BOX(proof->listening), cw_heading(_("Listening checks")));
  gtk_box_append(GTK_BOX(proof->listening),
                 cw_record_list_new(proof->session, vehicle,
                                    cw_record_get_field_at(vehicle, CW_VEHICLE_FIELD_LISTENING)));
}

static void refresh(gpointer data)
{
  Proof *proof = data;
  CwRecord *vehicle = cw_session_get_vehicle(proof->session), *tune = cw_vehicle_get_tune(vehicle);
  gboolean tuned = tune && cw_list_get_length(cw_tune_get_outputs(tune)),
           running = cw_sound_run_is_running(CW_SOUND_RUN(proof->recorder));
  gboolean practice = cw_sound_desk_is_practice(proof->desk);
  fill_places(proof);
  g_autoptr(GPtrArray) missing = tuned ? find_missing(proof, TRUE) : cw_wanted_new();
  g_autoptr(GPtrArray) here = tuned ? find_wanted_here(proof) : cw_wanted_new();
  cw_page_set_need(CW_PAGE(proof->page), tuned ? NULL : _("Proof needs a tune, loaded into the processor."),
                   CW_STAGE_TUNING);
  gtk_widget_set_sensitive(proof->here, here->len && !running);
  gtk_widget_set_sensitive(proof->all, missing->len && !running);
  gtk_widget_set_visible(proof->all, practice);
  if (!running)
    show_board(proof);
  show_rows(proof, cw_vehicle_get_proof(vehicle));
  show_plot(proof, cw_vehicle_get_proof(vehicle));
  show_listening(proof, vehicle);
}

/* --- measuring --- */

static void go(gpointer data, gpointer wanted)
{
  cw_sound_run_start(CW_SOUND_RUN(((Proof *)data)->recorder), wanted, CW_RECORD_AS_IT_SOUNDS);
}

/* Where real sound will come, the person says first that the crossovers of the tune protect the speakers. */
static void ask_and_start(Proof *proof, GPtrArray *wanted)
{
  const CwSoundPermissionWords words = {
      _("Is the table loaded into the processor?"),
      _("A sweep over the whole range plays into the processor's inputs. Without the table's "
        "crossovers it can destroy tweeters. "
        "The interface's first two outputs must be connected to the left and right input, and "
        "the level be low to begin with."),
      _("_It is loaded")};
  cw_sound_permission_ask(&proof->consent, 0, wanted, &words);
}

static void on_here(Proof *proof)
{
  ask_and_start(proof, find_wanted_here(proof));
}

static void on_all(Proof *proof)
{
  cw_sound_run_start(CW_SOUND_RUN(proof->recorder), find_missing(proof, FALSE), CW_RECORD_COMPUTED);
}

static void proof_free(gpointer data)
{
  Proof *proof = data;
  cw_sound_run_stop(CW_SOUND_RUN(proof->recorder));
  cw_sound_permission_clear(&proof->consent);
  g_object_unref(proof->recorder);
  g_object_unref(proof->desk);
  g_clear_object(&proof->shown);
  g_free(proof->subject);
  g_free(proof);
}

static GtkWidget *new_scrolled(GtkWidget *child)
{
  GtkWidget *scrolled = gtk_scrolled_window_new();
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), child);
  gtk_widget_set_vexpand(scrolled, TRUE);
  return scrolled;
}

static GtkWidget *new_content(Proof *proof)
{
  const char *const headings[] = {_("What"), _("Verdict"), _(">Differs by"), _("At worst"), "", NULL};
  GtkWidget *halves = gtk_paned_new(GTK_ORIENTATION_HORIZONTAL),
            *left = gtk_box_new(GTK_ORIENTATION_VERTICAL, 12);
  GtkWidget *right = gtk_paned_new(GTK_ORIENTATION_VERTICAL);
  const char *const board[] = {_("Played into"), _("Positions"), "", NULL};
  proof->board = cw_cell_table_new(board);
  proof->place = gtk_drop_down_new(NULL, NULL);
  cw_set_name(proof->place, _("Position"));
  g_signal_connect_object(proof->place, "notify::selected", G_CALLBACK(cw_page_refresh), proof->page,
                          G_CONNECT_SWAPPED);
  proof->table = cw_cell_table_new(headings);
  proof->plot = cw_plot_view_new(_("Measured over predicted"));
  proof->listening = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4);
  gtk_box_append(GTK_BOX(left), cw_seat_choice_new(proof->session));
  gtk_box_append(GTK_BOX(left), cw_text(_("Load the table into the processor, put the microphone where it "
                                          "stood before, and play into the processor's inputs.")));
  gtk_box_append(GTK_BOX(left), proof->place);
  gtk_box_append(GTK_BOX(left), proof->board);
  gtk_box_append(GTK_BOX(left), gtk_separator_new(GTK_ORIENTATION_HORIZONTAL));
  gtk_box_append(GTK_BOX(left), proof->listening);
  gtk_paned_set_start_child(GTK_PANED(right), proof->plot);
  gtk_paned_set_end_child(GTK_PANED(right), new_scrolled(proof->table));
  cw_share_room(right, 64, 330);
  gtk_widget_add_css_class(right, "restore");
  gtk_paned_set_start_child(GTK_PANED(halves), new_scrolled(left));
  gtk_paned_set_end_child(GTK_PANED(halves), right);
  cw_share_room(halves, 25, 380);
  gtk_paned_set_shrink_end_child(GTK_PANED(halves), FALSE);
  return halves;
}

GtkWidget *cw_stage_proof_new(CwSession *session, CwSoundDesk *desk)
{
  Proof *proof = g_new0(Proof, 1);
  proof->session = session;
  proof->desk = g_object_ref(desk);
  proof->recorder = cw_proof_recorder_new(session, desk);
  proof->page = cw_page_new(session, CW_STAGE_PROOF, _("With the table loaded: is the prediction true?"));
  proof->consent = (CwSoundPermission){.page = proof->page,
                                       .desk = desk,
                                       .go = go,
                                       .data = proof,
                                       .free_what = (GDestroyNotify)g_ptr_array_unref};
  cw_page_set_content(CW_PAGE(proof->page), new_content(proof));
  proof->all = cw_page_add_button(CW_PAGE(proof->page), _("Measure all _quickly"), G_CALLBACK(on_all), proof);
  gtk_widget_set_tooltip_text(proof->all, _("In the practice bay alone: faster than it sounds"));
  proof->here =
      cw_page_add_main_button(CW_PAGE(proof->page), _("_Measure this position"), G_CALLBACK(on_here), proof);
  cw_page_set_refresh(CW_PAGE(proof->page), refresh, proof, proof_free);
  g_signal_connect_object(proof->recorder, "changed", G_CALLBACK(cw_page_refresh), proof->page,
                          G_CONNECT_SWAPPED);
  g_signal_connect_object(desk, "changed", G_CALLBACK(cw_page_refresh), proof->page, G_CONNECT_SWAPPED);
  return proof->page;
}
