/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/feeds.h"
#include "job/takes/positions.h"
#include "job/takes/takes.h"
#include "window/plan/microphone_picture.h"
#include "window/plots/take_plots.h"
#include "window/sound/exposure_clock.h"
#include "window/sound/live_pane.h"
#include "window/sound/sound_permission.h"
#include "window/sound/speaker_noise.h"
#include "window/stages/measuring/arrival_table.h"
#include "window/stages/measuring/first_sound_pane.h"
#include "window/stages/measuring/take_board.h"
#include "window/stages/measuring/take_recorder.h"
#include "window/stages/stages.h"
#include "window/state/words.h"
#include "window/widgets/seat_choice.h"

#include <glib/gi18n-lib.h>
#include <math.h>

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  CwRecorder *recorder;
  GtkWidget *page;
  GtkWidget *board;
  GtkWidget *record, *again, *all;
  GtkWidget *timing;
  GtkWidget *picture;
  GtkWidget *words, *plan, *rattle, *latency;
  double rattle_hz; /* of the shown take or its output; NAN for none */
  GtkWidget *response, *distortion, *first_sound, *arrivals;
  CwSoundPermission consent; /* that an output alone is connected */
} Measuring;

static int timing_of(Measuring *measuring)
{
  return (int)gtk_drop_down_get_selected(GTK_DROP_DOWN(measuring->timing));
}

/* Where the chosen output makes something rattle, as the button offers to look for it. */
static void show_rattle(Measuring *measuring, CwRecord *vehicle, CwRecord *take)
{
  measuring->rattle_hz = cw_find_rattle_hz(vehicle, cw_session_get_output(measuring->session), take);
  gboolean found = measuring->rattle_hz >= CW_SEARCH_LOW_HZ && measuring->rattle_hz <= CW_SEARCH_HIGH_HZ;
  gtk_widget_set_visible(measuring->rattle, found);
  gtk_widget_set_sensitive(measuring->rattle, !cw_sound_desk_get_playing(measuring->desk));
}

/* How long the sound was on its way through device and processor, which the loopback cable tells. */
static void show_latency(Measuring *measuring, CwRecord *take)
{
  double latency_ms = take ? cw_take_get_latency_ms(take) : (double)NAN;
  g_autofree char *words =
      isnan(latency_ms)
          ? NULL
          : g_strdup_printf(_("Way out and back %.2f ms by the loopback cable, taken out of the arrival."),
                            latency_ms);
  cw_show_text(measuring->latency, words);
  gtk_widget_set_visible(measuring->latency, words != NULL);
}

/* What the next take would be played with; with the board full, the chosen cell's if it is recorded again. */
static void show_plan(Measuring *measuring)
{
  gint64 output;
  g_autofree char *position = NULL;
  if (cw_sound_run_is_running(CW_SOUND_RUN(measuring->recorder))) {
    gtk_label_set_text(GTK_LABEL(measuring->plan), _("Keep still."));
    return;
  }
  gboolean more = cw_take_board_find_next(CW_TAKE_BOARD(measuring->board), &output, &position);
  if (!more) {
    output = cw_session_get_output(measuring->session);
    position = g_strdup(cw_take_board_get_position(CW_TAKE_BOARD(measuring->board)));
  }
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(measuring->session), output);
  g_autofree char *feed = cw_recorder_say_feed(measuring->recorder, output, timing_of(measuring));
  g_autofree char *words = feed ? g_strdup_printf(more ? _("Next: %s at %s, %s.") : _("Again: %s at %s, %s."),
                                                  name, position, feed)
                                : NULL;
  gtk_label_set_text(GTK_LABEL(measuring->plan), words ? words : "");
}

static void show_take(Measuring *measuring)
{
  CwRecord *vehicle = cw_session_get_vehicle(measuring->session);
  gint64 output = cw_session_get_output(measuring->session);
  const char *position = cw_take_board_get_position(CW_TAKE_BOARD(measuring->board));
  CwRecord *take =
      position ? cw_take_board_find_take(CW_TAKE_BOARD(measuring->board), output, position) : NULL;
  g_autofree char *name = cw_say_output(vehicle, output);
  g_autofree char *words = take ? cw_say_take(vehicle, take)
                                : g_strdup_printf(_("%s, %s: no take yet."), name, position ? position : "");
  gtk_label_set_text(GTK_LABEL(measuring->words), words);
  cw_show_responses(CW_PLOT_VIEW(measuring->response), vehicle, take);
  cw_show_distortion(CW_PLOT_VIEW(measuring->distortion), vehicle, take);
  cw_plot_view_set_words(CW_PLOT_VIEW(measuring->response), words);
  cw_plot_view_set_words(CW_PLOT_VIEW(measuring->distortion), words);
  cw_first_sound_pane_show(measuring->first_sound, take && cw_take_get_accepted(take) ? take : NULL);
  cw_arrival_table_show(measuring->arrivals, position);
  cw_microphone_picture_show(CW_MICROPHONE_PICTURE(measuring->picture), position);
  show_rattle(measuring, vehicle, take);
  show_latency(measuring, take);
}

/* While it records, the board shows the take that is on. */
static void refresh(gpointer data)
{
  Measuring *measuring = data;
  CwRecord *vehicle = cw_session_get_vehicle(measuring->session);
  const CwWanted *current = cw_sound_run_get_wanted(CW_SOUND_RUN(measuring->recorder));
  gboolean running = cw_sound_run_is_running(CW_SOUND_RUN(measuring->recorder)),
           practice = cw_sound_desk_is_practice(measuring->desk);
  gboolean empty = !cw_list_get_length(cw_vehicle_get_speakers(vehicle));
  gint64 output;
  g_autofree char *position = NULL;
  gboolean more = !empty && cw_take_board_find_next(CW_TAKE_BOARD(measuring->board), &output, &position);
  cw_page_set_need(CW_PAGE(measuring->page),
                   empty ? _("Measuring needs the speakers that are fitted.") : NULL, CW_STAGE_SHEET);
  if (current) {
    cw_take_board_set_position(CW_TAKE_BOARD(measuring->board), current->position);
    cw_session_set_output(measuring->session, current->what);
  }
  cw_take_board_refresh(CW_TAKE_BOARD(measuring->board));
  gtk_widget_set_sensitive(measuring->record, more && !running);
  gtk_widget_set_sensitive(measuring->again, !empty && !running);
  gtk_widget_set_sensitive(measuring->all, more && !running);
  gtk_button_set_label(GTK_BUTTON(measuring->all),
                       practice ? _("Fill the board quickly") : _("Record this position"));
  gtk_widget_set_tooltip_text(measuring->all,
                              practice ? _("The practice bay computes the takes faster than they would sound")
                                       : _("Every output that has no take here, one after the other"));
  show_take(measuring);
  show_plan(measuring);
}

static void start(Measuring *measuring, GPtrArray *wanted, CwRecordingWay way)
{
  const CwWanted *first = g_ptr_array_index(wanted, 0);
  cw_session_set_output(measuring->session, first->what);
  cw_recorder_start(measuring->recorder, wanted, timing_of(measuring), way);
}

/* Records what is wanted, or for NULL looks for what rattles. */
static void go(gpointer data, gpointer wanted)
{
  Measuring *measuring = data;
  if (wanted)
    start(measuring, wanted, CW_RECORD_AS_IT_SOUNDS);
  else
    cw_speaker_noise_search(measuring->session, measuring->desk, cw_session_get_output(measuring->session),
                            measuring->rattle_hz);
}

/* A bass sweep through a tweeter destroys it: where real sound will come, the person says first that the
 * wiring is so. */
static void ask_and_start(Measuring *measuring, GPtrArray *wanted)
{
  gint64 output = wanted ? ((const CwWanted *)g_ptr_array_index(wanted, 0))->what
                         : cw_session_get_output(measuring->session);
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(measuring->session), output);
  g_autofree char *question = g_strdup_printf(_("Will only %s sound?"), name);
  const CwSoundPermissionWords words = {
      question,
      _("Every other output must be muted in the processor, its own crossover be in place, "
        "and the level be low to begin with. "
        "A sweep through the wrong speaker can destroy it."),
      _("_Only this one")};
  cw_sound_permission_ask(&measuring->consent, output, wanted, &words);
}

static void on_rattle(Measuring *measuring)
{
  ask_and_start(measuring, NULL);
}

static void on_record(Measuring *measuring)
{
  gint64 output;
  g_autofree char *position = NULL;
  if (!cw_take_board_find_next(CW_TAKE_BOARD(measuring->board), &output, &position))
    return;
  GPtrArray *wanted = cw_wanted_new();
  cw_wanted_add(wanted, output, position);
  ask_and_start(measuring, wanted);
}

static void on_again(Measuring *measuring)
{
  GPtrArray *wanted = cw_wanted_new();
  cw_wanted_add(wanted, cw_session_get_output(measuring->session),
                cw_take_board_get_position(CW_TAKE_BOARD(measuring->board)));
  ask_and_start(measuring, wanted);
}

/* In the practice bay, all that is missing at this seat; else what is missing at the position where the
 * microphone stands. */
static void on_all(Measuring *measuring)
{
  CwRecord *vehicle = cw_session_get_vehicle(measuring->session);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  gboolean practice = cw_sound_desk_is_practice(measuring->desk);
  g_auto(GStrv) positions = cw_job_positions(vehicle, cw_session_get_seat(measuring->session));
  gint64 first_output;
  g_autofree char *first = NULL;
  if (!cw_take_board_find_next(CW_TAKE_BOARD(measuring->board), &first_output, &first))
    return;
  GPtrArray *wanted = cw_wanted_new();
  for (guint p = 0; positions[p]; p++)
    for (guint i = 0; i < cw_list_get_length(speakers); i++) {
      gint64 output = cw_speaker_get_output(cw_list_get(speakers, i));
      if ((practice || g_str_equal(positions[p], first)) &&
          !cw_job_find_take(vehicle, output, positions[p], CW_PURPOSE_TUNING))
        cw_wanted_add(wanted, output, positions[p]);
    }
  if (practice)
    start(measuring, wanted, CW_RECORD_COMPUTED);
  else
    ask_and_start(measuring, wanted);
}

static void measuring_free(gpointer data)
{
  Measuring *measuring = data;
  cw_sound_run_stop(CW_SOUND_RUN(measuring->recorder));
  cw_sound_permission_clear(&measuring->consent);
  g_signal_handlers_disconnect_by_data(measuring->recorder, measuring);
  g_object_unref(measuring->recorder);
  g_object_unref(measuring->desk);
  g_free(measuring);
}

static GtkWidget *new_choices(Measuring *measuring)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8);
  const char *const timings[] = {_("Cable from output to input 2"), _("Chirps from another speaker"),
                                 _("Distances from the sheet"), NULL};
  measuring->timing = gtk_drop_down_new_from_strings(timings);
  gtk_widget_set_tooltip_text(measuring->timing, _("How it is known when the sound left: by a cable from "
                                                   "output to input, by a short signal from another "
                                                   "speaker, or from the sheet's distances"));
  cw_set_name(measuring->timing, _("Timing"));
  gtk_box_append(GTK_BOX(row), cw_seat_choice_new(measuring->session));
  gtk_box_append(GTK_BOX(row), measuring->timing);
  return row;
}

static GtkWidget *new_plots(Measuring *measuring)
{
  GtkWidget *book = gtk_notebook_new();
  measuring->response = cw_plot_view_new(_("Response of the take"));
  measuring->distortion = cw_plot_view_new(_("Distortion of the take"));
  cw_add_tab(book, measuring->response, _("Response"));
  cw_add_tab(book, measuring->distortion, _("Distortion"));
  measuring->first_sound = cw_first_sound_pane_new(measuring->session);
  measuring->arrivals = cw_arrival_table_new(measuring->session);
  cw_add_tab(book, measuring->first_sound, _("First sound"));
  cw_add_tab(book, measuring->arrivals, _("Arrivals"));
  cw_add_tab(book, cw_live_pane_new(measuring->session, measuring->desk), _("Live spectrum"));
  return book;
}

/* The board with the picture of where the microphone belongs. */
static GtkWidget *new_board(Measuring *measuring)
{
  GtkWidget *left = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8), *scrolled = gtk_scrolled_window_new();
  measuring->board = cw_take_board_new(measuring->session, CW_PURPOSE_TUNING);
  measuring->picture = cw_microphone_picture_new();
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), measuring->board);
  gtk_widget_set_vexpand(scrolled, TRUE);
  gtk_box_append(GTK_BOX(left), new_choices(measuring));
  gtk_box_append(GTK_BOX(left), scrolled);
  gtk_box_append(GTK_BOX(left), measuring->picture);
  g_signal_connect_swapped(measuring->board, "chosen", G_CALLBACK(show_take), measuring);
  g_signal_connect_swapped(measuring->board, "chosen", G_CALLBACK(show_plan), measuring);
  return left;
}

/* What is known of the shown take, and what the next one will be. */
static GtkWidget *new_words(Measuring *measuring)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8),
            *lines = gtk_box_new(GTK_ORIENTATION_VERTICAL, 2);
  measuring->words = cw_text(NULL);
  measuring->plan = cw_dim_text(NULL);
  measuring->latency = cw_dim_text(NULL);
  gtk_widget_set_tooltip_text(
      measuring->latency,
      _("What the sound device, its driver and the processor take together, from the program to "
        "the converter and back. It changes whenever the device is opened, and says nothing of "
        "the air between speaker and microphone."));
  measuring->rattle = gtk_button_new_with_label(_("Play around the rattle"));
  gtk_widget_set_tooltip_text(measuring->rattle, _("A tone that glides round the rattle's frequency until "
                                                   "Stop or Escape: press on panels until it is quiet"));
  gtk_widget_set_visible(measuring->rattle, FALSE);
  gtk_widget_set_valign(measuring->rattle, GTK_ALIGN_CENTER);
  gtk_widget_set_hexpand(lines, TRUE);
  gtk_box_append(GTK_BOX(lines), measuring->words);
  gtk_box_append(GTK_BOX(lines), measuring->latency);
  gtk_box_append(GTK_BOX(lines), measuring->plan);
  gtk_box_append(GTK_BOX(lines), cw_exposure_label_new(measuring->session, measuring->desk));
  gtk_box_append(GTK_BOX(row), lines);
  gtk_box_append(GTK_BOX(row), measuring->rattle);
  g_signal_connect_swapped(measuring->rattle, "clicked", G_CALLBACK(on_rattle), measuring);
  return row;
}

GtkWidget *cw_stage_measuring_new(CwSession *session, CwSoundDesk *desk)
{
  Measuring *measuring = g_new0(Measuring, 1);
  *measuring = (Measuring){.session = session, .desk = g_object_ref(desk)};
  measuring->recorder = cw_recorder_new(session, desk);
  measuring->page =
      cw_page_new(session, CW_STAGE_MEASURING, _("Each speaker alone, at several places around the head."));
  measuring->consent = (CwSoundPermission){.page = measuring->page,
                                           .desk = desk,
                                           .go = go,
                                           .data = measuring,
                                           .free_what = (GDestroyNotify)g_ptr_array_unref};
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8),
            *halves = gtk_paned_new(GTK_ORIENTATION_HORIZONTAL);
  gtk_paned_set_start_child(GTK_PANED(halves), new_board(measuring));
  gtk_paned_set_end_child(GTK_PANED(halves), new_plots(measuring));
  cw_share_room(halves, 32, 540);
  gtk_paned_set_shrink_end_child(GTK_PANED(halves), FALSE);
  gtk_widget_set_vexpand(halves, TRUE);
  gtk_box_append(GTK_BOX(box), halves);
  gtk_box_append(GTK_BOX(box), new_words(measuring));
  measuring->all = cw_page_add_button(CW_PAGE(measuring->page), "", G_CALLBACK(on_all), measuring);
  measuring->again = cw_page_add_button(CW_PAGE(measuring->page), _("Record this cell _again"),
                                        G_CALLBACK(on_again), measuring);
  measuring->record = cw_page_add_main_button(CW_PAGE(measuring->page), _("_Record the next take"),
                                              G_CALLBACK(on_record), measuring);
  g_signal_connect_object(measuring->timing, "notify::selected", G_CALLBACK(cw_page_refresh), measuring->page,
                          G_CONNECT_SWAPPED);
  cw_page_set_content(CW_PAGE(measuring->page), box);
  cw_page_set_refresh(CW_PAGE(measuring->page), refresh, measuring, measuring_free);
  g_signal_connect_object(measuring->recorder, "changed", G_CALLBACK(cw_page_refresh), measuring->page,
                          G_CONNECT_SWAPPED);
  g_signal_connect_object(desk, "changed", G_CALLBACK(cw_page_refresh), measuring->page, G_CONNECT_SWAPPED);
  return measuring->page;
}
