/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/map/checked_by_hand.h"
#include "job/map/wiring.h"
#include "window/plan/plan_view.h"
#include "window/sound/sound_permission.h"
#include "window/sound/speaker_noise.h"
#include "window/stages/map/map_recorder.h"
#include "window/stages/map/map_view.h"
#include "window/stages/stages.h"
#include "window/state/words.h"
#include "window/widgets/cell_table.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>

#define SURE 0.6 /* of a polarity that is told without takes */

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  CwMapRecorder *recorder;
  GtkWidget *page, *table, *left, *right;
  CwSoundPermission consent; /* that real sound may come */
  char *shape;               /* what the table was built for */
  GPtrArray *sound_buttons;
} Map;

static gint64 output_of(GtkWidget *widget)
{
  return GPOINTER_TO_INT(g_object_get_data(G_OBJECT(widget), "output"));
}

static void on_sound(GtkButton *button, Map *map)
{
  gint64 output = output_of(GTK_WIDGET(button));
  cw_session_set_output(map->session, output);
  cw_speaker_noise_play(map->session, map->desk, output);
}

static void on_proven(GtkCheckButton *check, Map *map)
{
  CwRecord *vehicle = cw_session_get_vehicle(map->session);
  gint64 output = output_of(GTK_WIDGET(check));
  CwRecord *proof = cw_job_find_map_proof(vehicle, output);
  gboolean proven = gtk_check_button_get_active(check);
  if (proof ? cw_map_proof_get_proven(proof) == proven : !proven)
    return;
  g_autofree char *name = cw_say_output(vehicle, output);
  g_autofree char *what = g_strdup_printf(proven ? _("Prove %s") : _("Take the proof of %s back"), name);
  cw_job_set_proven(vehicle, output, proven);
  cw_session_commit(map->session, what);
}

/* The polarity that the output's takes show, or before there are any the proving run where it is sure; in
 * words. */
static const char *say_polarity(CwRecord *vehicle, gint64 output)
{
  CwRecord *proof = cw_job_find_map_proof(vehicle, output);
  int polarity = cw_job_measured_polarity(vehicle, output);
  if (polarity < 0 && proof && cw_map_proof_get_polarity_confidence(proof) >= SURE)
    polarity = cw_map_proof_get_polarity(proof);
  if (polarity < 0)
    return _("not measured");
  return polarity == CW_POLARITY_INVERTED ? _("⚠ inverted") : _("✓ normal");
}

/* What the microphone heard of an output in the proving run; the caller's. */
static char *say_heard(CwRecord *vehicle, gint64 output)
{
  CwRecord *proof = cw_job_find_map_proof(vehicle, output);
  int sounded = proof ? cw_map_proof_get_sounded(proof) : CW_SOUNDED_UNTRIED;
  gint64 like = proof ? cw_map_proof_get_sounds_like(proof) : CW_NO_INTEGER,
         same = proof ? cw_map_proof_get_same_as(proof) : CW_NO_INTEGER;
  if (sounded == CW_SOUNDED_SILENT)
    return g_strdup(_("⚠ silent"));
  if (sounded != CW_SOUNDED_HEARD)
    return g_strdup(_("not tried"));
  if (same != CW_NO_INTEGER)
    return g_strdup_printf(_("⚠ with output %d"), (int)same);
  if (like != CW_NO_INTEGER && like != output) {
    g_autofree char *name = cw_say_output(vehicle, like);
    return g_strdup_printf(_("⚠ as %s"), name);
  }
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, output);
  const char *side =
      speaker && cw_speaker_get_side(speaker) != CW_SIDE_BOTH ? cw_map_proof_say_heard_side(proof) : "";
  return *side ? g_strdup_printf(_("✓ %s"), side) : g_strdup(_("✓ heard"));
}

static GtkWidget *new_sound_button(Map *map, CwRecord *speaker)
{
  GtkWidget *button = gtk_button_new_with_label(_("Sound it"));
  g_autofree char *name = cw_say_speaker(speaker), *words = g_strdup_printf(_("Sound %s"), name);
  g_object_set_data(G_OBJECT(button), "output", GINT_TO_POINTER((int)cw_speaker_get_output(speaker)));
  cw_set_name(button, words);
  g_signal_connect(button, "clicked", G_CALLBACK(on_sound), map);
  g_ptr_array_add(map->sound_buttons, button);
  return button;
}

static GtkWidget *new_check(Map *map, CwRecord *vehicle, CwRecord *speaker)
{
  GtkWidget *check = gtk_check_button_new_with_label(_("heard there"));
  gint64 output = cw_speaker_get_output(speaker);
  CwRecord *proof = cw_job_find_map_proof(vehicle, output);
  gtk_check_button_set_active(GTK_CHECK_BUTTON(check), proof && cw_map_proof_get_proven(proof));
  g_object_set_data(G_OBJECT(check), "output", GINT_TO_POINTER((int)output));
  g_signal_connect(check, "toggled", G_CALLBACK(on_proven), map);
  return check;
}

static void add(GtkWidget *table, char *text)
{
  cw_cell_table_add_text(table, text);
  g_free(text);
}

static void build(Map *map, CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  g_ptr_array_set_size(map->sound_buttons, 0);
  cw_cell_table_clear(map->table);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    gint64 output = cw_speaker_get_output(speaker);
    g_autofree char *name = cw_say_speaker(speaker);
    add(map->table, g_strdup_printf("%d  %s", (int)output, name));
    add(map->table, say_heard(vehicle, output));
    add(map->table, g_strdup(say_polarity(vehicle, output)));
    cw_cell_table_add(map->table, new_sound_button(map, speaker));
    cw_cell_table_add(map->table, new_check(map, vehicle, speaker));
  }
}

/* The channel that the output feeds, in words; the caller's. */
static char *say_channel(CwRecord *vehicle, gint64 output)
{
  CwRecord *channel = cw_job_find_channel(vehicle, output);
  return channel ? cw_job_say_channel(channel) : g_strdup(_("no channel"));
}

/* All that the table shows; it is built again only when that changed. */
static char *shape_of(CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  GString *shape = g_string_new(NULL);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    gint64 output = cw_speaker_get_output(speaker);
    CwRecord *proof = cw_job_find_map_proof(vehicle, output);
    g_autofree char *name = cw_say_speaker(speaker), *channel = say_channel(vehicle, output);
    g_string_append_printf(shape, "%d %s %s %s %d\n", (int)output, name, channel,
                           say_polarity(vehicle, output), proof && cw_map_proof_get_proven(proof));
  }
  return g_string_free(shape, FALSE);
}

static void refresh(gpointer data)
{
  Map *map = data;
  CwRecord *vehicle = cw_session_get_vehicle(map->session);
  g_autofree char *shape = shape_of(vehicle);
  gboolean empty = !cw_list_get_length(cw_vehicle_get_speakers(vehicle));
  cw_page_set_need(CW_PAGE(map->page),
                   empty ? _("The channel map needs the speakers that are fitted.") : NULL, CW_STAGE_SHEET);
  if (g_strcmp0(shape, map->shape) != 0) {
    g_free(map->shape);
    map->shape = g_steal_pointer(&shape);
    build(map, vehicle);
  }
  gboolean busy =
      cw_sound_desk_get_playing(map->desk) || cw_sound_run_is_running(CW_SOUND_RUN(map->recorder));
  gtk_widget_set_sensitive(map->left, !empty && !busy);
  gtk_widget_set_sensitive(map->right, !empty && !busy);
  for (guint i = 0; i < map->sound_buttons->len; i++)
    gtk_widget_set_sensitive(g_ptr_array_index(map->sound_buttons, i), !cw_sound_desk_get_playing(map->desk));
}

static void go(gpointer data, gpointer place)
{
  cw_map_recorder_start(((Map *)data)->recorder, (CwProvingPlace)GPOINTER_TO_INT(place));
}

/* A sweep that is meant for a woofer may reach a tweeter where wires changed places: the person is told
 * before real sound comes. */
static void listen_to_all(Map *map, CwProvingPlace place)
{
  const CwSoundPermissionWords words = {
      _("Sound every output in turn?"),
      _("Short quiet sweeps play through all outputs. Where wires changed places, one that is "
        "meant for a woofer may reach a tweeter: "
        "have protective capacitors in place or tweeters unplugged until their wires were "
        "checked, and turn the amplifiers down."),
      _("_Sound them")};
  cw_sound_permission_ask(&map->consent, 0, GINT_TO_POINTER((int)place), &words);
}

static void on_left(Map *map)
{
  listen_to_all(map, CW_PROVING_LEFT);
}

static void on_right(Map *map)
{
  listen_to_all(map, CW_PROVING_RIGHT);
}

static void map_free(gpointer data)
{
  Map *map = data;
  cw_sound_run_stop(CW_SOUND_RUN(map->recorder));
  cw_sound_permission_clear(&map->consent);
  g_object_unref(map->recorder);
  g_object_unref(map->desk);
  g_ptr_array_unref(map->sound_buttons);
  g_free(map->shape);
  g_free(map);
}

GtkWidget *cw_stage_map_new(CwSession *session, CwSoundDesk *desk)
{
  const char *const headings[] = {_("Output"), _("Microphone heard"),        _("Polarity"),
                                  "",          _("Where the plan shows it"), NULL};
  Map *map = g_new0(Map, 1);
  GtkWidget *halves = gtk_paned_new(GTK_ORIENTATION_HORIZONTAL), *scrolled = gtk_scrolled_window_new();
  GtkWidget *left = gtk_box_new(GTK_ORIENTATION_VERTICAL, 10);
  map->session = session;
  map->desk = g_object_ref(desk);
  map->sound_buttons = g_ptr_array_new();
  map->page =
      cw_page_new(session, CW_STAGE_MAP,
                  _("Every speaker on the wire, side and polarity that the map says, one at a time."));
  map->recorder = cw_map_recorder_new(session, desk);
  map->consent = (CwSoundPermission){.page = map->page, .desk = desk, .go = go, .data = map};
  map->left = cw_page_add_button(CW_PAGE(map->page), _("Listen _left of the head"), G_CALLBACK(on_left), map);
  map->right =
      cw_page_add_button(CW_PAGE(map->page), _("Listen _right of the head"), G_CALLBACK(on_right), map);
  gtk_widget_set_tooltip_text(
      map->left, _("A short sweep through every output in turn, with the microphone left of the head"));
  gtk_widget_set_tooltip_text(
      map->right,
      _("The same with the microphone right of the head: then side, polarity and mix-ups are known"));
  g_signal_connect_object(map->recorder, "changed", G_CALLBACK(cw_page_refresh), map->page,
                          G_CONNECT_SWAPPED);
  map->table = cw_cell_table_new(headings);
  gtk_box_append(GTK_BOX(left), cw_map_view_new(session));
  gtk_box_append(GTK_BOX(left), map->table);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), left);
  gtk_paned_set_start_child(GTK_PANED(halves), scrolled);
  gtk_paned_set_end_child(GTK_PANED(halves), cw_plan_view_new(session));
  cw_share_room(halves, 55, 660);
  gtk_paned_set_shrink_start_child(GTK_PANED(halves), FALSE);
  gtk_paned_set_shrink_end_child(GTK_PANED(halves), FALSE);
  cw_page_set_content(CW_PAGE(map->page), halves);
  cw_page_set_refresh(CW_PAGE(map->page), refresh, map, map_free);
  g_signal_connect_object(desk, "changed", G_CALLBACK(cw_page_refresh), map->page, G_CONNECT_SWAPPED);
  return map->page;
}
