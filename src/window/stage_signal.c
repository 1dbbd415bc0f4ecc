/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey.h"
#include "job/tracks.h"
#include "window/cell_table.h"
#include "window/dialogs.h"
#include "window/plot_view.h"
#include "window/record_rows.h"
#include "window/stages.h"
#include "window/take_plots.h"
#include "window/words.h"
#include "window/worker.h"

#include <glib/gi18n-lib.h>
#include <math.h>

typedef struct {
  CwSession *session;
  CwWorker *worker;
  GtkWidget *page, *summary, *wanted, *leads, *sums, *plot, *rows, *begin, *read;
  CwRecord *shown; /* the survey whose rows stand in the page */
} Signal;

static void add(GtkWidget *table, char *text)
{
  cw_cell_table_add_text(table, text);
  g_free(text);
}

static char *say_range(CwRecord *record)
{
  double low = cw_record_get_number(record, "low_hz"), high = cw_record_get_number(record, "high_hz");
  g_autofree char *from = isfinite(low) ? g_strdup_printf("%.0f", low) : g_strdup(_("below 20"));
  g_autofree char *to = isfinite(high) ? g_strdup_printf("%.0f Hz", high) : g_strdup(_("20 000 Hz and above"));
  return g_strdup_printf(_("%s to %s"), from, to);
}

static char *say(double value, const char *format_unit)
{
  return isfinite(value) ? g_strdup_printf("%.1f %s", value, format_unit) : g_strdup("–");
}

static void show_lead(Signal *signal, CwRecord *lead)
{
  double all_pass = cw_record_get_number(lead, "all_pass_hz");
  add(signal->leads, g_strdup_printf("%d", (int)cw_record_get_integer(lead, "lead")));
  add(signal->leads, g_strdup_printf("%s, %s", cw_say_choice(lead, "side"), cw_say_choice(lead, "end")));
  add(signal->leads, g_strdup(cw_say_choice(lead, "band")));
  add(signal->leads, say_range(lead));
  add(signal->leads, g_strdup(cw_say_choice(lead, "polarity")));
  add(signal->leads, say(cw_record_get_number(lead, "delay_ms"), "ms"));
  add(signal->leads, say(cw_record_get_number(lead, "level_dbv"), "dBV"));
  add(signal->leads, say(cw_record_get_number(lead, "clip_dbfs"), "dBFS"));
  add(signal->leads, !cw_record_get_boolean(lead, "all_pass") ? g_strdup(_("no"))
                     : isfinite(all_pass)                     ? g_strdup_printf(_("at %.0f Hz"), all_pass)
                                                              : g_strdup(_("yes")));
}

static void show_sum(Signal *signal, CwRecord *sum)
{
  add(signal->sums, g_strdup(cw_record_get_text(sum, "name")));
  add(signal->sums, say_range(sum));
  add(signal->sums, say(cw_record_get_number(sum, "loss_db"), "dB"));
  add(signal->sums, g_strdup(cw_record_get_boolean(sum, "advised") ? _("✓ advised") : ""));
  add(signal->sums, g_strdup(cw_record_get_text(sum, "why")));
}

/* One line a lead, told apart by its side's colour and a dash of its own. */
static void show_plot(Signal *signal, CwRecord *survey)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(signal->plot));
  CwList *leads = survey ? cw_record_get_children(survey, "leads") : NULL;
  static const CwColour *const colours[] = {&cw_colour_sky, &cw_colour_vermilion, &cw_colour_green};
  cw_plot_clear(plot);
  for (guint i = 0; leads && i < cw_list_get_length(leads); i++) {
    CwRecord *lead = cw_list_get(leads, i);
    g_autofree char *label = g_strdup_printf(_("lead %d"), (int)cw_record_get_integer(lead, "lead"));
    cw_plot_add_curve(plot, label, cw_record_get_numbers(lead, "response"), *colours[cw_record_get_choice(lead, "side")],
                      (CwDash)(i % CW_N_DASHES));
  }
  plot->y.name = _("Leads of the factory radio");
  cw_plot_fit_level_axis(plot, 40, 10);
  cw_plot_view_set_words(CW_PLOT_VIEW(signal->plot), _("The response of every lead of the factory radio."));
  cw_plot_view_update(CW_PLOT_VIEW(signal->plot));
  gtk_widget_set_visible(signal->plot, plot->series->len > 0);
}

static void show_summary(Signal *signal, CwRecord *survey)
{
  g_autoptr(GString) text = g_string_new(NULL);
  if (!survey) {
    g_string_append(text, _("No survey yet. Write the test tracks to a USB stick, play them in the car, record the radio's leads, and read the recordings. "
                            "Or enter by hand what you know."));
  } else {
    CwRecord *correction = cw_record_get_child(survey, "correction");
    gint64 step = cw_record_get_integer(survey, "clean_volume_step");
    if (step != CW_NO_INTEGER)
      g_string_append_printf(text, _("Highest clean volume step: %d. "), (int)step);
    if (cw_record_get_boolean(survey, "loudness_found"))
      g_string_append(text, _("The bass lift follows the volume: switch it off in the radio's menus. "));
    if (correction && isfinite(cw_record_get_number(correction, "flatness_db")))
      g_string_append_printf(text, _("Corrected to within %.1f dB."), cw_record_get_number(correction, "flatness_db"));
  }
  gtk_label_set_text(GTK_LABEL(signal->summary), text->str);
}

static void refresh(gpointer data)
{
  Signal *signal = data;
  CwRecord *vehicle = cw_session_get_vehicle(signal->session), *survey = cw_record_get_child(vehicle, "survey");
  CwList *leads = survey ? cw_record_get_children(survey, "leads") : NULL, *sums = survey ? cw_record_get_children(survey, "sums") : NULL;
  cw_cell_table_clear(signal->leads);
  cw_cell_table_clear(signal->sums);
  for (guint i = 0; leads && i < cw_list_get_length(leads); i++)
    show_lead(signal, cw_list_get(leads, i));
  for (guint i = 0; sums && i < cw_list_get_length(sums); i++)
    show_sum(signal, cw_list_get(sums, i));
  gtk_widget_set_visible(signal->leads, leads && cw_list_get_length(leads));
  gtk_widget_set_visible(signal->sums, sums && cw_list_get_length(sums));
  gtk_widget_set_visible(signal->begin, !survey);
  gtk_widget_set_sensitive(signal->read, !cw_worker_is_running(signal->worker));
  show_summary(signal, survey);
  show_plot(signal, survey);
  if (!g_set_object(&signal->shown, survey))
    return;
  for (GtkWidget *child; (child = gtk_widget_get_first_child(signal->rows));)
    gtk_box_remove(GTK_BOX(signal->rows), child);
  if (survey)
    gtk_box_append(GTK_BOX(signal->rows), cw_record_list_new(signal->session, survey, cw_record_find_field(survey, "leads")));
}

static void on_begin(Signal *signal)
{
  CwRecord *survey = cw_record_make_child(cw_session_get_vehicle(signal->session), "survey");
  cw_record_set_integer(cw_record_add_child(survey, "leads"), "lead", 1);
  cw_session_commit(signal->session, _("Enter leads by hand"));
}

static gboolean run(gpointer work, GCancellable *cancellable, CwProgress progress, gpointer data, GError **error)
{
  return cw_survey_work_run(work, cancellable, progress, data, error);
}

static void store(gpointer work, CwProject *project)
{
  cw_survey_work_store(work, project);
}

static void free_work(gpointer work)
{
  cw_survey_work_free(work);
}

static const CwWorkKind survey_kind = {run, store, free_work, N_("Survey of the factory signal"), N_("The survey is there. Look at the findings.")};

static void on_takes_chosen(const char *path, gpointer page)
{
  Signal *signal = cw_page_get_data(CW_PAGE(page));
  g_autoptr(GError) error = NULL;
  CwSurveyWork *work = cw_survey_work_read(cw_session_get_vehicle(signal->session), path, &error);
  if (work)
    cw_worker_start(signal->worker, &survey_kind, work, _("Reading the recordings"));
  else
    cw_session_tell(signal->session, CW_TOLD_FAILED, _("No survey: %s. The vehicle is as it was."), error->message);
}

static void on_read(Signal *signal)
{
  cw_dialogs_choose_path(signal->page, GTK_FILE_CHOOSER_ACTION_OPEN, _("The list of recordings"), NULL, _("Lists of recordings"), "*.json",
                         on_takes_chosen, g_object_ref(signal->page), g_object_unref);
}

static void on_folder_chosen(const char *path, gpointer page)
{
  Signal *signal = cw_page_get_data(CW_PAGE(page));
  g_autoptr(GError) error = NULL;
  if (cw_job_write_tracks(path, CW_TRACKS_RATE_HZ, &error))
    cw_session_tell(signal->session, CW_TOLD_DONE, _("The tracks are in %s, with a list to print. Put them on a USB stick."), path);
  else
    cw_session_tell(signal->session, CW_TOLD_FAILED, _("The tracks were not written: %s. Choose another folder."), error->message);
}

static void on_tracks(Signal *signal)
{
  cw_dialogs_choose_path(signal->page, GTK_FILE_CHOOSER_ACTION_SELECT_FOLDER, _("Where to put the test tracks"), NULL, NULL, NULL,
                         on_folder_chosen, g_object_ref(signal->page), g_object_unref);
}

static void signal_free(gpointer data)
{
  Signal *signal = data;
  cw_worker_cancel(signal->worker);
  g_object_unref(signal->worker);
  g_clear_object(&signal->shown);
  g_free(signal);
}

GtkWidget *cw_stage_signal_new(CwSession *session, CwSoundDesk *desk)
{
  const char *const leads[] = {_(">Lead"), _("Side and end"), _("Band"), _("Plays"), _("Polarity"), _(">Delay"), _(">Level"), _(">Clips at"), _("All-pass"), NULL};
  const char *const sums[] = {_("Sum"), _("Plays"), _(">Lost"), _("Advice"), _("Why"), NULL};
  Signal *signal = g_new0(Signal, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 12);
  signal->session = session;
  signal->worker = cw_worker_new(session);
  signal->page = cw_page_new(session, CW_STAGE_SIGNAL, _("What each lead of the factory radio carries, and what to sum."));
  signal->summary = cw_text(NULL);
  signal->leads = cw_cell_table_new(leads);
  signal->sums = cw_cell_table_new(sums);
  signal->plot = cw_plot_view_new(_("Leads of the factory radio"));
  signal->rows = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4);
  gtk_widget_set_halign(signal->rows, GTK_ALIGN_START);
  gtk_widget_set_size_request(signal->rows, 560, -1);
  gtk_widget_set_size_request(signal->plot, -1, 240);
  GtkWidget *wanted = gtk_expander_new(_("What to play and record"));
  g_autoptr(CwRecord) index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  g_autofree char *list = cw_job_track_list(index);
  signal->wanted = cw_text(list);
  gtk_label_set_selectable(GTK_LABEL(signal->wanted), TRUE);
  gtk_expander_set_child(GTK_EXPANDER(wanted), signal->wanted);
  gtk_expander_set_expanded(GTK_EXPANDER(wanted), TRUE);
  gtk_box_append(GTK_BOX(box), cw_worker_bar_new(signal->worker));
  gtk_box_append(GTK_BOX(box), signal->summary);
  gtk_box_append(GTK_BOX(box), wanted);
  gtk_box_append(GTK_BOX(box), signal->leads);
  gtk_box_append(GTK_BOX(box), signal->plot);
  gtk_box_append(GTK_BOX(box), signal->sums);
  gtk_box_append(GTK_BOX(box), signal->rows);
  signal->begin = cw_page_add_button(CW_PAGE(signal->page), _("Enter leads by _hand"), G_CALLBACK(on_begin), signal);
  cw_page_add_button(CW_PAGE(signal->page), _("_Write the test tracks"), G_CALLBACK(on_tracks), signal);
  signal->read = cw_page_add_main_button(CW_PAGE(signal->page), _("_Read the recordings"), G_CALLBACK(on_read), signal);
  g_signal_connect_object(signal->worker, "changed", G_CALLBACK(cw_page_refresh), signal->page, G_CONNECT_SWAPPED);
  cw_page_set_content_scrolled(CW_PAGE(signal->page), box);
  cw_page_set_refresh(CW_PAGE(signal->page), refresh, signal, signal_free);
  return signal->page;
}
