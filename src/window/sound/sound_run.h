/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/recording.h"
#include "window/sound/sound_desk.h"
#include "window/state/session.h"

G_BEGIN_DECLS

/* Plays one thing after the other through the desk's device, listens, looks at each recording off the main
 * loop and keeps what came of it. Ends by itself, by Stop, or with the first thing that fails; what was kept
 * before stays. Signal "changed": it goes on, or has ended. */
#define CW_TYPE_SOUND_RUN (cw_sound_run_get_type())
G_DECLARE_DERIVABLE_TYPE(CwSoundRun, cw_sound_run, CW, SOUND_RUN, GObject)

/* What a kind of run does of its own; all but analyse() in the main loop. */
struct _CwSoundRunClass {
  GObjectClass parent_class;
  /* Plays the thing of the run's number, has it computed (cw_sound_run_look() without a recording), or ends
   * where there is none. */
  void (*next)(CwSoundRun *run);
  /* Takes over what was recorded. Unless a kind has its own: analyse(), then keep(), then the next. */
  void (*heard)(CwSoundRun *run, CwRecording *recording);
  /* In another thread: what came of the recording (NULL: to be computed), for free_outcome(); NULL with
   * error. What the run was begun with stays as it is while it runs. */
  gpointer (*analyse)(CwSoundRun *run, CwRecord *vehicle, CwRecording *recording, GError **error);
  GDestroyNotify free_outcome;
  /* Stores it; FALSE where the run is to end with it. */
  gboolean (*keep)(CwSoundRun *run, CwProject *project, gpointer outcome);
  /* Says why the run ends: the fault's words, or NULL where it was stopped. The project is still open. */
  void (*tell)(CwSoundRun *run, const char *fault);
  /* After silence, before others hear of the end; may be NULL. */
  void (*ended)(CwSoundRun *run);
};

typedef enum {
  CW_RECORD_AS_IT_SOUNDS,
  CW_RECORD_COMPUTED, /* in the practice bay alone: faster than it would sound */
} CwRecordingWay;

/* A thing to be heard, and where: an output or a side, at a position ("driver/3"). */
typedef struct {
  gint64 what;
  char *position;
} CwWanted;

/* An empty list of things to record, in order. Free with g_ptr_array_unref(). */
GPtrArray *cw_wanted_new(void);

/* Appends one: an output or take, by its number, at a position, which is copied. */
void cw_wanted_add(GPtrArray *wanted, gint64 what, const char *position);

/* A run of a kind; the caller's. */
gpointer cw_sound_run_construct(GType kind, CwSession *session, CwSoundDesk *desk);

/* Begins with what is wanted, which it takes over; NULL where the kind knows by itself. Does nothing while it
 * runs, or without a project. */
void cw_sound_run_start(CwSoundRun *run, GPtrArray *wanted, CwRecordingWay way);
gboolean cw_sound_run_is_running(CwSoundRun *run);

/* The one of the wanted that is on; NULL where none is left, and while it does not run. */
const CwWanted *cw_sound_run_get_wanted(CwSoundRun *run);

/* Ends with the thing that is on, which is not kept. */
void cw_sound_run_stop(CwSoundRun *run);

/* For the kinds. */
CwSession *cw_sound_run_get_session(CwSoundRun *run);
CwSoundDesk *cw_sound_run_get_desk(CwSoundRun *run);
guint cw_sound_run_get_number(CwSoundRun *run);
CwRecordingWay cw_sound_run_get_way(CwSoundRun *run);
void cw_sound_run_say(CwSoundRun *run, const char *words, gint64 output);
void cw_sound_run_say_wanted(CwSoundRun *run, const char *what, gint64 output);
void cw_sound_run_prepare(CwSoundRun *run, CwSoundJob *job, double practice_rate_hz);
void cw_sound_run_lead(CwSoundRun *run, CwSoundJob *job, gint64 output);
void cw_sound_run_play(CwSoundRun *run, CwSoundJob *job, const CwRecording *feed);
void cw_sound_run_look(CwSoundRun *run, CwRecording *recording);
void cw_sound_run_fail(CwSoundRun *run, const GError *error);
void cw_sound_run_end(CwSoundRun *run);

G_END_DECLS
