/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/practice/practice_radio.h"
#include "job/survey/tracks.h"
#include "window/stages/signal/survey_guide.h"
#include "window/stages/signal/survey_leads.h"
#include "window/stages/signal/survey_sums.h"
#include "window/stages/signal/survey_work.h"
#include "window/stages/stages.h"
#include "window/widgets/questions.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  CwWorker *worker;
  CwSurveyRecorder *recorder;
  GtkWidget *page, *switcher, *stack, *guide, *leads, *sums, *by_hand;
  GtkWidget *record, *conclude, *quickly, *read, *begin;
  CwRecord *shown;    /* the survey whose rows stand in the page */
  CwProject *project; /* of which the recorded takes are */
  gboolean was_running;
} Signal;

static void conclude(Signal *signal)
{
  cw_survey_guide_tell_volts(signal->guide);
  gpointer work = cw_survey_recorder_ref_work(signal->recorder);
  if (work)
    cw_worker_start(signal->worker, &cw_survey_conclusion, work, _("Comparing the takes"));
}

/* After the last take that was missing the survey concludes by itself. */
static void follow_recorder(Signal *signal)
{
  gboolean running = cw_sound_run_is_running(CW_SOUND_RUN(signal->recorder));
  guint wanted = cw_list_get_length(cw_survey_recorder_get_takes(signal->recorder));
  if (signal->was_running && !running && !cw_survey_recorder_is_at_tone(signal->recorder) &&
      cw_survey_recorder_find_next(signal->recorder, 0) == wanted)
    conclude(signal);
  signal->was_running = running;
}

static void show_by_hand(Signal *signal, CwRecord *survey)
{
  if (!g_set_object(&signal->shown, survey))
    return;
  GtkWidget *old = gtk_widget_get_first_child(signal->by_hand);
  if (old)
    gtk_box_remove(GTK_BOX(signal->by_hand), old);
  if (survey) {
    GtkWidget *leads =
        cw_record_list_new(signal->session, survey, cw_record_get_field_at(survey, CW_SURVEY_FIELD_LEADS));
    gtk_expander_set_expanded(GTK_EXPANDER(leads), TRUE);
    gtk_box_append(GTK_BOX(signal->by_hand), leads);
  }
  gtk_stack_set_visible_child_name(GTK_STACK(signal->stack), survey ? "leads" : "record");
}

static void set_page_visible(Signal *signal, const char *name, gboolean visible)
{
  GtkWidget *child = gtk_stack_get_child_by_name(GTK_STACK(signal->stack), name);
  gtk_stack_page_set_visible(gtk_stack_get_page(GTK_STACK(signal->stack), child), visible);
}

/* Of the two that draw only the one that is seen: a drag on a curve is to be followed. */
static void refresh_shown(Signal *signal)
{
  GtkWidget *shown = gtk_stack_get_visible_child(GTK_STACK(signal->stack));
  if (shown == signal->leads)
    cw_survey_leads_refresh(signal->leads);
  if (shown == signal->sums)
    cw_survey_sums_refresh(signal->sums);
}

static void refresh(gpointer data)
{
  Signal *signal = data;
  CwRecord *vehicle = cw_session_get_vehicle(signal->session), *survey = cw_vehicle_get_survey(vehicle);
  CwProject *project = cw_session_get_project(signal->session);
  if (signal->project != project) {
    signal->project = project;
    cw_survey_recorder_begin_anew(signal->recorder);
  }
  follow_recorder(signal);
  gboolean busy =
      cw_sound_run_is_running(CW_SOUND_RUN(signal->recorder)) || cw_worker_is_running(signal->worker);
  gboolean practice = cw_sound_desk_is_practice(signal->desk) && cw_job_practice_radio_leads(vehicle);
  gtk_widget_set_visible(signal->switcher, survey != NULL);
  set_page_visible(signal, "leads", survey != NULL);
  set_page_visible(signal, "sums", survey != NULL);
  set_page_visible(signal, "by-hand", survey != NULL);
  show_by_hand(signal, survey);
  cw_survey_guide_refresh(signal->guide);
  refresh_shown(signal);
  gtk_widget_set_sensitive(signal->record, !busy);
  gtk_widget_set_sensitive(signal->conclude, !busy && cw_survey_recorder_count(signal->recorder, 0) > 0);
  gtk_widget_set_sensitive(signal->read, !busy);
  gtk_widget_set_visible(signal->quickly, practice);
  gtk_widget_set_sensitive(signal->quickly, !busy);
  gtk_widget_set_visible(signal->begin, !survey && !practice);
}

static void on_record(Signal *signal)
{
  gtk_stack_set_visible_child_name(GTK_STACK(signal->stack), "record");
  if (!cw_survey_guide_record(signal->guide))
    cw_session_tell(signal->session, CW_TOLD_ATTEND, _("Not recorded: see the entries that are marked."));
}

static void on_conclude(Signal *signal)
{
  conclude(signal);
}

static void on_quickly(Signal *signal)
{
  gpointer work = cw_practice_survey_new(cw_session_get_vehicle(signal->session),
                                         cw_survey_guide_get_seat_setting(signal->guide));
  cw_worker_start(signal->worker, &cw_survey_of_practice, work, _("Recording the practice radio"));
}

static void on_begin(Signal *signal)
{
  CwRecord *survey = cw_vehicle_make_survey(cw_session_get_vehicle(signal->session));
  cw_lead_set_lead(cw_survey_add_to_leads(survey), 1);
  cw_session_commit(signal->session, _("Enter leads by hand"));
  gtk_stack_set_visible_child_name(GTK_STACK(signal->stack), "by-hand");
}

static void on_takes_chosen(const char *path, gpointer page)
{
  Signal *signal = cw_page_get_data(CW_PAGE(page));
  g_autoptr(GError) error = NULL;
  CwSurveyWork *work = cw_survey_work_read(cw_session_get_vehicle(signal->session), path, &error);
  if (work)
    cw_worker_start(signal->worker, &cw_survey_from_files, work, _("Reading the recordings"));
  else
    cw_session_tell(signal->session, CW_TOLD_FAILED, _("No survey: %s. The vehicle is as it was."),
                    error->message);
}

static void on_read(Signal *signal)
{
  cw_ask_path(signal->page, GTK_FILE_CHOOSER_ACTION_OPEN, _("The list of recordings"), NULL,
              _("Lists of recordings"), "*.json", on_takes_chosen, g_object_ref(signal->page),
              g_object_unref);
}

static void on_folder_chosen(const char *path, gpointer page)
{
  Signal *signal = cw_page_get_data(CW_PAGE(page));
  g_autoptr(GError) error = NULL;
  if (cw_job_write_tracks(path, CW_TRACKS_RATE_HZ, CW_REPLACE_OWN, &error))
    cw_session_tell(signal->session, CW_TOLD_DONE,
                    _("The tracks are in %s, with a list to print. Put them on a USB stick."), path);
  else
    cw_session_tell(signal->session, CW_TOLD_FAILED,
                    _("The tracks were not written: %s. Choose another folder."), error->message);
}

static void on_tracks(Signal *signal)
{
  cw_ask_path(signal->page, GTK_FILE_CHOOSER_ACTION_SELECT_FOLDER, _("Where to put the test tracks"), NULL,
              NULL, NULL, on_folder_chosen, g_object_ref(signal->page), g_object_unref);
}

static void signal_free(gpointer data)
{
  Signal *signal = data;
  cw_worker_cancel(signal->worker);
  cw_sound_run_stop(CW_SOUND_RUN(signal->recorder));
  g_object_unref(signal->worker);
  g_object_unref(signal->recorder);
  g_object_unref(signal->desk);
  g_clear_object(&signal->shown);
  g_free(signal);
}

static GtkWidget *new_scrolled(GtkWidget *child)
{
  GtkWidget *scrolled = gtk_scrolled_window_new();
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), child);
  return scrolled;
}

static GtkWidget *new_content(Signal *signal)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 10),
            *switcher = signal->switcher = gtk_stack_switcher_new();
  signal->stack = gtk_stack_new();
  signal->guide = cw_survey_guide_new(signal->session, signal->desk, signal->recorder);
  signal->leads = cw_survey_leads_new(signal->session);
  signal->sums = cw_survey_sums_new(signal->session);
  signal->by_hand = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4);
  gtk_widget_set_halign(signal->by_hand, GTK_ALIGN_START);
  gtk_widget_set_size_request(signal->by_hand, 560, -1);
  gtk_stack_add_titled(GTK_STACK(signal->stack), new_scrolled(signal->guide), "record", _("Record"));
  gtk_stack_add_titled(GTK_STACK(signal->stack), signal->leads, "leads", _("Leads"));
  gtk_stack_add_titled(GTK_STACK(signal->stack), signal->sums, "sums", _("Mix and correction"));
  gtk_stack_add_titled(GTK_STACK(signal->stack), new_scrolled(signal->by_hand), "by-hand", _("By hand"));
  for (GtkWidget *child = gtk_widget_get_first_child(signal->stack); child;
       child = gtk_widget_get_next_sibling(child))
    cw_follow_mapped(child);
  g_signal_connect_object(signal->stack, "notify::visible-child", G_CALLBACK(cw_page_refresh), signal->page,
                          G_CONNECT_SWAPPED);
  gtk_stack_switcher_set_stack(GTK_STACK_SWITCHER(switcher), GTK_STACK(signal->stack));
  gtk_widget_set_halign(switcher, GTK_ALIGN_START);
  gtk_widget_set_vexpand(signal->stack, TRUE);
  gtk_box_append(GTK_BOX(box), cw_worker_bar_new(signal->worker));
  gtk_box_append(GTK_BOX(box), switcher);
  gtk_box_append(GTK_BOX(box), signal->stack);
  return box;
}

GtkWidget *cw_stage_signal_new(CwSession *session, CwSoundDesk *desk)
{
  Signal *signal = g_new0(Signal, 1);
  *signal = (Signal){.session = session,
                     .desk = g_object_ref(desk),
                     .worker = cw_worker_new(session),
                     .recorder = cw_survey_recorder_new(session, desk)};
  signal->page = cw_page_new(session, CW_STAGE_SIGNAL,
                             _("What each lead of the factory radio carries, and what to sum."));
  GtkWidget *content = new_content(signal);
  cw_survey_guide_add_button(signal->guide, _("Write the test tracks"), G_CALLBACK(on_tracks), signal);
  signal->read = cw_survey_guide_add_button(signal->guide, _("Read recordings"), G_CALLBACK(on_read), signal);
  signal->begin =
      cw_survey_guide_add_button(signal->guide, _("Enter leads by hand"), G_CALLBACK(on_begin), signal);
  signal->quickly =
      cw_page_add_button(CW_PAGE(signal->page), _("Survey _quickly"), G_CALLBACK(on_quickly), signal);
  gtk_widget_set_tooltip_text(signal->quickly,
                              _("All takes of the practice radio at once, faster than they sound"));
  signal->conclude =
      cw_page_add_button(CW_PAGE(signal->page), _("_Conclude"), G_CALLBACK(on_conclude), signal);
  gtk_widget_set_tooltip_text(signal->conclude, _("Says what can be said from the takes so far"));
  signal->record =
      cw_page_add_main_button(CW_PAGE(signal->page), _("_Record this take"), G_CALLBACK(on_record), signal);
  g_signal_connect_object(signal->worker, "changed", G_CALLBACK(cw_page_refresh), signal->page,
                          G_CONNECT_SWAPPED);
  g_signal_connect_object(signal->recorder, "changed", G_CALLBACK(cw_page_refresh), signal->page,
                          G_CONNECT_SWAPPED);
  g_signal_connect_object(desk, "changed", G_CALLBACK(cw_page_refresh), signal->page, G_CONNECT_SWAPPED);
  cw_page_set_content(CW_PAGE(signal->page), content);
  cw_page_set_refresh(CW_PAGE(signal->page), refresh, signal, signal_free);
  return signal->page;
}
