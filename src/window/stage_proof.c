/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/positions.h"
#include "window/board.h"
#include "window/cell_table.h"
#include "window/plot_view.h"
#include "window/proof_rows.h"
#include "window/recorder.h"
#include "window/record_rows.h"
#include "window/stages.h"
#include "window/take_plots.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define PURPOSE_PROOF 1

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  CwRecorder *recorder;
  GtkWidget *page, *board, *record, *all, *compare, *table, *plot, *listening;
  char *subject; /* the row whose curves are shown */
  CwRecord *shown;
} Proof;

static void show_plot(Proof *proof, CwList *rows)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(proof->plot));
  CwRecord *row = proof->subject ? cw_list_find_text(rows, "subject", proof->subject) : NULL;
  if (!row && cw_list_get_length(rows))
    row = cw_list_get(rows, 0);
  cw_plot_clear(plot);
  plot->y.name = row ? cw_record_get_text(row, "subject") : "";
  const CwNumbers *predicted = row ? cw_record_get_numbers(row, "predicted") : NULL, *spread = row ? cw_record_get_numbers(row, "spread") : NULL;
  if (predicted && spread && spread->n_rows == predicted->n_rows) {
    g_autofree double *hz = g_new(double, predicted->n_rows), *low = g_new(double, predicted->n_rows), *high = g_new(double, predicted->n_rows);
    for (guint i = 0; i < predicted->n_rows; i++) {
      hz[i] = cw_numbers_at(predicted, i, 0);
      low[i] = cw_numbers_at(predicted, i, 1) - cw_numbers_at(spread, i, 1);
      high[i] = cw_numbers_at(predicted, i, 1) + cw_numbers_at(spread, i, 1);
    }
    cw_plot_add_band(plot, _("expected"), predicted->n_rows, hz, low, high)->colour = cw_colour_sky;
  }
  cw_plot_add_curve(plot, _("predicted"), predicted, cw_colour_blue, CW_DASH_LONG);
  cw_plot_add_curve(plot, _("measured"), row ? cw_record_get_numbers(row, "measured") : NULL, cw_colour_vermilion, CW_DASH_SOLID);
  cw_plot_fit_level_axis(plot, 40, 10);
  cw_axis_show(&plot->y, fmax(plot->y.low_all, plot->y.high_all - 50), plot->y.high_all);
  cw_plot_view_set_words(CW_PLOT_VIEW(proof->plot), _("Measured over predicted, with the spread that is expected."));
  cw_plot_view_update(CW_PLOT_VIEW(proof->plot));
}

static void on_show(GtkButton *button, Proof *proof)
{
  g_free(proof->subject);
  proof->subject = g_strdup(g_object_get_data(G_OBJECT(button), "subject"));
  show_plot(proof, cw_record_get_children(cw_session_get_vehicle(proof->session), "proof"));
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
    double rms = cw_record_get_number(row, "rms_db"), worst = cw_record_get_number(row, "worst_db");
    GtkWidget *show = gtk_button_new_with_label(_("Show"));
    g_autofree char *name = g_strdup_printf(_("Show %s"), cw_record_get_text(row, "subject"));
    g_object_set_data_full(G_OBJECT(show), "subject", g_strdup(cw_record_get_text(row, "subject")), g_free);
    g_signal_connect(show, "clicked", G_CALLBACK(on_show), proof);
    cw_set_name(show, name);
    add(proof->table, g_strdup(cw_record_get_text(row, "subject")));
    add(proof->table, g_strdup(cw_record_get_boolean(row, "agrees") ? _("✓ as predicted") : _("✗ differs")));
    add(proof->table, isfinite(rms) ? g_strdup_printf("%.1f dB", rms) : g_strdup("–"));
    add(proof->table, isfinite(worst) ? g_strdup_printf(_("%+.1f dB at %.0f Hz"), worst, cw_record_get_number(row, "worst_hz")) : g_strdup("–"));
    cw_cell_table_add(proof->table, show);
  }
  gtk_widget_set_visible(proof->table, cw_list_get_length(rows) > 0);
}

static void refresh(gpointer data)
{
  Proof *proof = data;
  CwRecord *vehicle = cw_session_get_vehicle(proof->session), *tune = cw_record_get_child(vehicle, "tune");
  const CwWantedTake *current = cw_recorder_get_current(proof->recorder);
  gboolean tuned = tune && cw_list_get_length(cw_record_get_children(tune, "outputs")), running = cw_recorder_is_running(proof->recorder);
  gint64 output;
  g_autofree char *position = NULL;
  if (current)
    cw_board_set_position(CW_BOARD(proof->board), current->position);
  cw_board_refresh(CW_BOARD(proof->board));
  gboolean more = cw_board_find_next(CW_BOARD(proof->board), &output, &position);
  cw_page_set_need(CW_PAGE(proof->page), tuned ? NULL : _("Proof needs a tune, loaded into the processor."), CW_STAGE_TUNING);
  gtk_widget_set_sensitive(proof->record, tuned && more && !running);
  gtk_widget_set_sensitive(proof->all, tuned && more && !running && cw_sound_desk_is_practice(proof->desk));
  gtk_widget_set_visible(proof->all, cw_sound_desk_is_practice(proof->desk));
  gtk_widget_set_sensitive(proof->compare, tuned && !running);
  show_rows(proof, cw_record_get_children(vehicle, "proof"));
  show_plot(proof, cw_record_get_children(vehicle, "proof"));
  if (!g_set_object(&proof->shown, vehicle))
    return;
  for (GtkWidget *child; (child = gtk_widget_get_first_child(proof->listening));)
    gtk_box_remove(GTK_BOX(proof->listening), child);
  gtk_box_append(GTK_BOX(proof->listening), cw_heading(_("Listening checks")));
  gtk_box_append(GTK_BOX(proof->listening), cw_record_list_new(proof->session, vehicle, cw_record_find_field(vehicle, "listening")));
}

static void on_compare(Proof *proof)
{
  g_autoptr(GError) error = NULL;
  const char *seat = cw_session_get_seat(proof->session);
  if (cw_proof_compare(cw_session_get_project(proof->session), seat, &error))
    cw_session_commit(proof->session, _("Compare with the prediction"));
  else
    cw_session_tell(proof->session, CW_TOLD_ATTEND, _("Not compared: %s."), error->message);
}

static void on_record(Proof *proof)
{
  gint64 output;
  g_autofree char *position = NULL;
  if (!cw_board_find_next(CW_BOARD(proof->board), &output, &position))
    return;
  GPtrArray *wanted = cw_wanted_takes_new();
  cw_wanted_takes_add(wanted, output, position);
  cw_session_set_output(proof->session, output);
  cw_recorder_start(proof->recorder, wanted, CW_TIMING_LOOPBACK, PURPOSE_PROOF, CW_RECORD_AS_IT_SOUNDS);
}

static void on_all(Proof *proof)
{
  CwRecord *vehicle = cw_session_get_vehicle(proof->session);
  CwList *speakers = cw_record_get_children(vehicle, "speakers");
  g_auto(GStrv) positions = cw_job_positions(vehicle, cw_session_get_seat(proof->session));
  GPtrArray *wanted = cw_wanted_takes_new();
  for (guint p = 0; positions[p]; p++)
    for (guint i = 0; i < cw_list_get_length(speakers); i++) {
      gint64 output = cw_record_get_integer(cw_list_get(speakers, i), "output");
      if (!cw_job_find_take(vehicle, output, positions[p], PURPOSE_PROOF))
        cw_wanted_takes_add(wanted, output, positions[p]);
    }
  cw_recorder_start(proof->recorder, wanted, CW_TIMING_LOOPBACK, PURPOSE_PROOF, CW_RECORD_COMPUTED);
}

static void proof_free(gpointer data)
{
  Proof *proof = data;
  cw_recorder_stop(proof->recorder);
  g_object_unref(proof->recorder);
  g_object_unref(proof->desk);
  g_clear_object(&proof->shown);
  g_free(proof->subject);
  g_free(proof);
}

static GtkWidget *new_scrolled(GtkWidget *child)
{
  GtkWidget *scrolled = gtk_scrolled_window_new();
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), child);
  gtk_widget_set_vexpand(scrolled, TRUE);
  return scrolled;
}

static GtkWidget *new_content(Proof *proof)
{
  const char *const headings[] = {_("What"), _("Verdict"), _(">Differs by"), _("At worst"), "", NULL};
  GtkWidget *halves = gtk_paned_new(GTK_ORIENTATION_HORIZONTAL), *left = gtk_box_new(GTK_ORIENTATION_VERTICAL, 12);
  GtkWidget *right = gtk_paned_new(GTK_ORIENTATION_VERTICAL);
  proof->board = cw_board_new(proof->session, PURPOSE_PROOF);
  proof->table = cw_cell_table_new(headings);
  proof->plot = cw_plot_view_new(_("Measured over predicted"));
  proof->listening = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4);
  gtk_box_append(GTK_BOX(left), proof->board);
  gtk_box_append(GTK_BOX(left), gtk_separator_new(GTK_ORIENTATION_HORIZONTAL));
  gtk_box_append(GTK_BOX(left), proof->listening);
  gtk_paned_set_start_child(GTK_PANED(right), proof->plot);
  gtk_paned_set_end_child(GTK_PANED(right), new_scrolled(proof->table));
  gtk_paned_set_position(GTK_PANED(right), 280);
  gtk_widget_add_css_class(right, "restore");
  gtk_paned_set_start_child(GTK_PANED(halves), new_scrolled(left));
  gtk_paned_set_end_child(GTK_PANED(halves), right);
  gtk_paned_set_position(GTK_PANED(halves), 540);
  gtk_paned_set_shrink_end_child(GTK_PANED(halves), FALSE);
  return halves;
}

GtkWidget *cw_stage_proof_new(CwSession *session, CwSoundDesk *desk)
{
  Proof *proof = g_new0(Proof, 1);
  proof->session = session;
  proof->desk = g_object_ref(desk);
  proof->recorder = cw_recorder_new(session, desk);
  proof->page = cw_page_new(session, CW_STAGE_PROOF, _("With the table loaded: is the prediction true?"));
  cw_page_set_content(CW_PAGE(proof->page), new_content(proof));
  proof->all = cw_page_add_button(CW_PAGE(proof->page), _("_Fill the board quickly"), G_CALLBACK(on_all), proof);
  proof->record = cw_page_add_button(CW_PAGE(proof->page), _("_Record the next take"), G_CALLBACK(on_record), proof);
  proof->compare = cw_page_add_main_button(CW_PAGE(proof->page), _("_Compare"), G_CALLBACK(on_compare), proof);
  cw_page_set_refresh(CW_PAGE(proof->page), refresh, proof, proof_free);
  g_signal_connect_object(proof->recorder, "changed", G_CALLBACK(cw_page_refresh), proof->page, G_CONNECT_SWAPPED);
  g_signal_connect_object(desk, "changed", G_CALLBACK(cw_page_refresh), proof->page, G_CONNECT_SWAPPED);
  return proof->page;
}
