/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/session.h"

#include "job/findings/review.h"

#include <glib/gi18n-lib.h>
#include <string.h>

struct _CwSession {
  GObject parent_instance;
  CwSoundClient *sound;
  CwProject *project;
  guint changed_idle;
  int stage;
  GArray *outputs; /* gint64: the chosen outputs, the one that is looked at first; never empty */
  gboolean linked; /* edits of an output go to the other one of its pair */
  gboolean solo;   /* the curves show the chosen outputs alone */
  gint64 playing;  /* the output that sounds, CW_NO_INTEGER for none */
  char *seat;
  GCancellable *work;
};

G_DEFINE_FINAL_TYPE(CwSession, cw_session, G_TYPE_OBJECT)

enum { CHANGED, SELECTION_CHANGED, TOLD, N_SIGNALS };
static guint signals[N_SIGNALS];

static void session_dispose(GObject *object)
{
  CwSession *session = CW_SESSION(object);
  cw_session_set_project(session, NULL);
  g_clear_handle_id(&session->changed_idle, g_source_remove);
  g_clear_object(&session->sound);
  g_clear_object(&session->work);
  g_clear_pointer(&session->seat, g_free);
  g_clear_pointer(&session->outputs, g_array_unref);
  G_OBJECT_CLASS(cw_session_parent_class)->dispose(object);
}

static void cw_session_class_init(CwSessionClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = session_dispose;
  GType type = G_TYPE_FROM_CLASS(klass);
  signals[CHANGED] = g_signal_new("changed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[SELECTION_CHANGED] =
      g_signal_new("selection-changed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[TOLD] = g_signal_new("told", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 2,
                               G_TYPE_INT, G_TYPE_STRING);
}

static void choose(CwSession *session, const gint64 *outputs, guint count)
{
  g_array_set_size(session->outputs, 0);
  g_array_append_vals(session->outputs, outputs, count);
}

static void choose_one(CwSession *session, gint64 output)
{
  choose(session, &output, 1);
}

static void cw_session_init(CwSession *session)
{
  session->outputs = g_array_new(FALSE, FALSE, sizeof(gint64));
  choose_one(session, CW_NO_INTEGER);
  session->playing = CW_NO_INTEGER;
}

CwSession *cw_session_new(CwSoundClient *sound)
{
  CwSession *session = g_object_new(CW_TYPE_SESSION, NULL);
  session->sound = g_object_ref(sound);
  return session;
}

/* Where the vehicle has no longer, or not yet, a speaker on the output that is looked at, its first one is.
 */
static gboolean choose_what_is_there(CwSession *session)
{
  CwRecord *vehicle = session->project ? cw_project_get_vehicle(session->project) : NULL;
  CwList *speakers = vehicle ? cw_vehicle_get_speakers(vehicle) : NULL;
  if (!speakers || !cw_list_get_length(speakers) ||
      cw_vehicle_find_speaker(vehicle, g_array_index(session->outputs, gint64, 0)))
    return FALSE;
  choose_one(session, cw_speaker_get_output(cw_list_get(speakers, 0)));
  return TRUE;
}

static gboolean emit_changed(gpointer data)
{
  CwSession *session = data;
  gboolean chosen = choose_what_is_there(session);
  session->changed_idle = 0;
  g_signal_emit(session, signals[CHANGED], 0);
  if (chosen)
    g_signal_emit(session, signals[SELECTION_CHANGED], 0);
  return G_SOURCE_REMOVE;
}

/* Above drawing, so that what is drawn is what the vehicle is. */
static void queue_changed(CwSession *session)
{
  if (!session->changed_idle)
    session->changed_idle = g_idle_add_full(G_PRIORITY_HIGH_IDLE, emit_changed, session, NULL);
}

void cw_session_set_project(CwSession *session, CwProject *project)
{
  if (session->project)
    g_signal_handlers_disconnect_by_data(cw_project_get_vehicle(session->project), session);
  g_set_object(&session->project, project);
  g_clear_pointer(&session->seat, g_free);
  if (session->outputs)
    choose_one(session, CW_NO_INTEGER);
  session->solo = FALSE;
  if (!project)
    return;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  if (cw_list_get_length(speakers))
    choose_one(session, cw_speaker_get_output(cw_list_get(speakers, 0)));
  session->seat = g_strdup(seats && seats[0] ? seats[0] : "driver");
  g_signal_connect_swapped(vehicle, "changed", G_CALLBACK(queue_changed), session);
  queue_changed(session);
  g_signal_emit(session, signals[SELECTION_CHANGED], 0);
}

CwProject *cw_session_get_project(CwSession *session)
{
  return session->project;
}

CwRecord *cw_session_get_vehicle(CwSession *session)
{
  return session->project ? cw_project_get_vehicle(session->project) : NULL;
}

CwSoundClient *cw_session_get_sound(CwSession *session)
{
  return session->sound;
}

/* Says why an edit was not kept. One that the vehicle or its file cannot take is taken back, so that what
 * stands in the window is always what the file holds; one that the disk refused stays, and goes with the next
 * edit. */
static void tell_not_committed(CwSession *session, GError *error)
{
  gboolean refused = error->domain == CW_RECORD_ERROR ||
                     g_error_matches(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_READ_ONLY);
  if (refused) {
    cw_record_assign(cw_session_get_vehicle(session),
                     cw_history_get_present(cw_project_get_history(session->project)));
    cw_session_tell(session, CW_TOLD_FAILED, _("Not changed: %s. The vehicle is as it was."), error->message);
    return;
  }
  cw_session_tell(session, CW_TOLD_FAILED,
                  _("Not written to the disk: %s. The change is kept in this window and is written with the "
                    "next one; make room or "
                    "save a copy elsewhere before you close it."),
                  error->message);
}

gboolean cw_session_commit(CwSession *session, const char *what)
{
  return cw_session_commit_merging(session, what, NULL);
}

gboolean cw_session_commit_merging(CwSession *session, const char *what, const char *merge_key)
{
  g_autoptr(GError) error = NULL;
  if (!session->project)
    return FALSE;
  if (!cw_project_get_read_only_reason(session->project))
    cw_job_review(cw_session_get_vehicle(session));
  if (cw_project_commit_merging(session->project, what, merge_key, &error))
    return TRUE;
  tell_not_committed(session, error);
  return FALSE;
}

void cw_session_announce(CwSession *session)
{
  queue_changed(session);
}

void cw_session_undo(CwSession *session)
{
  g_autoptr(GError) error = NULL;
  if (session->project && !cw_project_undo(session->project, &error) && error)
    cw_session_tell(session, CW_TOLD_FAILED, _("Not undone: %s. The vehicle is as it was."), error->message);
}

void cw_session_redo(CwSession *session)
{
  g_autoptr(GError) error = NULL;
  if (session->project && !cw_project_redo(session->project, &error) && error)
    cw_session_tell(session, CW_TOLD_FAILED, _("Not redone: %s. The vehicle is as it was."), error->message);
}

/* A whole sentence that was put before a full stop ends once. */
static void end_once(char *text)
{
  char *two = text;
  while ((two = strstr(two, ".. ")) != NULL)
    memmove(two, two + 1, strlen(two));
}

void cw_session_tell(CwSession *session, CwTold kind, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  end_once(text);
  g_signal_emit(session, signals[TOLD], 0, (int)kind, text);
}

int cw_session_get_stage(CwSession *session)
{
  return session->stage;
}

void cw_session_set_stage(CwSession *session, int stage)
{
  g_return_if_fail(stage >= 0 && stage < CW_ROUTE_STAGE_COUNT);
  if (session->stage == stage)
    return;
  session->stage = stage;
  g_signal_emit(session, signals[SELECTION_CHANGED], 0);
}

gint64 cw_session_get_output(CwSession *session)
{
  return g_array_index(session->outputs, gint64, 0);
}

void cw_session_set_output(CwSession *session, gint64 output)
{
  cw_session_set_outputs(session, &output, 1);
}

void cw_session_set_outputs(CwSession *session, const gint64 *outputs, guint count)
{
  g_return_if_fail(count > 0);
  if (count == session->outputs->len && memcmp(outputs, session->outputs->data, count * sizeof *outputs) == 0)
    return;
  choose(session, outputs, count);
  g_signal_emit(session, signals[SELECTION_CHANGED], 0);
}

const GArray *cw_session_get_outputs(CwSession *session)
{
  return session->outputs;
}

gboolean cw_session_is_chosen(CwSession *session, gint64 output)
{
  for (guint i = 0; i < session->outputs->len; i++)
    if (g_array_index(session->outputs, gint64, i) == output)
      return TRUE;
  return FALSE;
}

gboolean cw_session_get_linked(CwSession *session)
{
  return session->linked;
}

void cw_session_set_linked(CwSession *session, gboolean linked)
{
  if (session->linked == linked)
    return;
  session->linked = linked;
  g_signal_emit(session, signals[SELECTION_CHANGED], 0);
}

gboolean cw_session_get_solo(CwSession *session)
{
  return session->solo;
}

void cw_session_set_solo(CwSession *session, gboolean solo)
{
  if (session->solo == solo)
    return;
  session->solo = solo;
  g_signal_emit(session, signals[SELECTION_CHANGED], 0);
}

const char *cw_session_get_seat(CwSession *session)
{
  return session->seat ? session->seat : "driver";
}

void cw_session_set_seat(CwSession *session, const char *seat)
{
  if (g_strcmp0(session->seat, seat) == 0)
    return;
  g_free(session->seat);
  session->seat = g_strdup(seat);
  g_signal_emit(session, signals[SELECTION_CHANGED], 0);
}

gint64 cw_session_get_playing(CwSession *session)
{
  return session->playing;
}

void cw_session_set_playing(CwSession *session, gint64 output)
{
  if (session->playing == output)
    return;
  session->playing = output;
  g_signal_emit(session, signals[SELECTION_CHANGED], 0);
}

GCancellable *cw_session_get_work(CwSession *session)
{
  return session->work;
}

void cw_session_set_work(CwSession *session, GCancellable *work)
{
  if (g_set_object(&session->work, work))
    g_signal_emit(session, signals[SELECTION_CHANGED], 0);
}

void cw_session_serve(CwSession *session, GObject *window)
{
  g_object_set_data(window, "session", session);
}

CwSession *cw_session_of(gpointer window)
{
  return window ? g_object_get_data(window, "session") : NULL;
}
