/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/sound_run.h"

#include "job/takes/feeds.h"

#include <glib/gi18n-lib.h>

#define ROOM_AFTER_S 0.35 /* for the latency of the way out and back, and the cabin's decay */
#define PROTECT_PART                                                                                         \
  0.25 /* two octaves below what the speaker bears, where a measurement does not notice it */

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  GPtrArray *wanted; /* CwWanted; NULL where the kind knows by itself */
  CwRecordingWay way;
  guint number;              /* of the thing that is on */
  GCancellable *cancellable; /* not NULL while running */
  float *feed;               /* must stay while it is played */
} CwSoundRunPrivate;

G_DEFINE_ABSTRACT_TYPE_WITH_PRIVATE(CwSoundRun, cw_sound_run, G_TYPE_OBJECT)

static guint changed;

static void wanted_free(gpointer data)
{
  g_free(((CwWanted *)data)->position);
  g_free(data);
}

GPtrArray *cw_wanted_new(void)
{
  return g_ptr_array_new_with_free_func(wanted_free);
}

void cw_wanted_add(GPtrArray *wanted, gint64 what, const char *position)
{
  CwWanted *one = g_new0(CwWanted, 1);
  *one = (CwWanted){what, g_strdup(position)};
  g_ptr_array_add(wanted, one);
}

static CwSoundRunPrivate *own(CwSoundRun *run)
{
  return cw_sound_run_get_instance_private(run);
}

static void run_dispose(GObject *object)
{
  CwSoundRunPrivate *self = own(CW_SOUND_RUN(object));
  if (self->cancellable)
    g_cancellable_cancel(self->cancellable);
  g_clear_object(&self->cancellable);
  g_clear_object(&self->session);
  g_clear_object(&self->desk);
  g_clear_pointer(&self->wanted, g_ptr_array_unref);
  g_clear_pointer(&self->feed, g_free);
  G_OBJECT_CLASS(cw_sound_run_parent_class)->dispose(object);
}

static void cw_sound_run_class_init(CwSoundRunClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = run_dispose;
  klass->heard = cw_sound_run_look;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
}

static void cw_sound_run_init(CwSoundRun *run)
{
}

gpointer cw_sound_run_construct(GType kind, CwSession *session, CwSoundDesk *desk)
{
  CwSoundRun *run = g_object_new(kind, NULL);
  own(run)->session = g_object_ref(session);
  own(run)->desk = g_object_ref(desk);
  g_signal_connect_object(desk, "stop-asked", G_CALLBACK(cw_sound_run_stop), run, G_CONNECT_SWAPPED);
  return run;
}

CwSession *cw_sound_run_get_session(CwSoundRun *run)
{
  return own(run)->session;
}

CwSoundDesk *cw_sound_run_get_desk(CwSoundRun *run)
{
  return own(run)->desk;
}

/* How many things were kept since the run began: the place of the one that is on. */
guint cw_sound_run_get_number(CwSoundRun *run)
{
  return own(run)->number;
}

gboolean cw_sound_run_is_running(CwSoundRun *run)
{
  return own(run)->cancellable != NULL;
}

const CwWanted *cw_sound_run_get_wanted(CwSoundRun *run)
{
  CwSoundRunPrivate *self = own(run);
  return self->cancellable && self->wanted && self->number < self->wanted->len
             ? g_ptr_array_index(self->wanted, self->number)
             : NULL;
}

CwRecordingWay cw_sound_run_get_way(CwSoundRun *run)
{
  return own(run)->way;
}

void cw_sound_run_start(CwSoundRun *run, GPtrArray *wanted, CwRecordingWay way)
{
  CwSoundRunPrivate *self = own(run);
  g_autoptr(GPtrArray) old = wanted;
  if (self->cancellable || !cw_session_get_project(self->session))
    return;
  old = self->wanted;
  self->wanted = wanted;
  self->way = way;
  self->number = 0;
  self->cancellable = g_cancellable_new();
  CW_SOUND_RUN_GET_CLASS(run)->next(run);
}

void cw_sound_run_stop(CwSoundRun *run)
{
  if (own(run)->cancellable)
    g_cancellable_cancel(own(run)->cancellable);
}

/* Says at the sound strip what goes on, NULL for nothing, and on the plan which output sounds (CW_NO_INTEGER:
 * none). */
void cw_sound_run_say(CwSoundRun *run, const char *words, gint64 output)
{
  cw_sound_desk_set_playing(own(run)->desk, words);
  cw_session_set_playing(own(run)->session, output);
  g_signal_emit(run, changed, 0);
}

/* The same of the wanted that is on, with its place among them. */
void cw_sound_run_say_wanted(CwSoundRun *run, const char *what, gint64 output)
{
  g_autofree char *words =
      g_strdup_printf(_("%s at %s, %u of %u"), what, cw_sound_run_get_wanted(run)->position,
                      own(run)->number + 1, own(run)->wanted->len);
  cw_sound_run_say(run, words, output);
}

void cw_sound_run_end(CwSoundRun *run)
{
  CwSoundRunClass *klass = CW_SOUND_RUN_GET_CLASS(run);
  g_clear_object(&own(run)->cancellable);
  g_clear_pointer(&own(run)->feed, g_free);
  cw_sound_desk_set_playing(own(run)->desk, NULL);
  cw_session_set_playing(own(run)->session, CW_NO_INTEGER);
  if (klass->ended)
    klass->ended(run);
  g_signal_emit(run, changed, 0);
}

/* Ends for a reason that the person must know. */
void cw_sound_run_fail(CwSoundRun *run, const GError *error)
{
  gboolean stopped = g_error_matches(error, CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED) ||
                     g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
  if (cw_session_get_project(own(run)->session))
    CW_SOUND_RUN_GET_CLASS(run)->tell(run, stopped ? NULL : error->message);
  cw_sound_run_end(run);
}

/* --- looking at what was recorded ------------------------------------------------------------------------
 */

typedef struct {
  CwRecord *vehicle; /* snapshot */
  CwRecording *recording;
} Analysis;

static void analysis_free(gpointer data)
{
  Analysis *analysis = data;
  g_object_unref(analysis->vehicle);
  g_clear_pointer(&analysis->recording, cw_recording_free);
  g_free(analysis);
}

static void analyse(GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Analysis *analysis = data;
  GError *error = NULL;
  CwSoundRunClass *klass = CW_SOUND_RUN_GET_CLASS(source);
  gpointer outcome = klass->analyse(source, analysis->vehicle, analysis->recording, &error);
  if (outcome)
    g_task_return_pointer(task, outcome, klass->free_outcome);
  else
    g_task_return_error(task, error);
}

static void on_analysed(GObject *source, GAsyncResult *result, gpointer data)
{
  CwSoundRun *run = CW_SOUND_RUN(source);
  CwSoundRunClass *klass = CW_SOUND_RUN_GET_CLASS(run);
  g_autoptr(GError) error = NULL;
  gpointer outcome = g_task_propagate_pointer(G_TASK(result), &error);
  CwProject *project = own(run)->session ? cw_session_get_project(own(run)->session) : NULL;
  gboolean more;
  if (!own(run)->cancellable) {
    g_clear_pointer(&outcome, klass->free_outcome);
    return;
  }
  if (!outcome) {
    cw_sound_run_fail(run, error);
    return;
  }
  more = project && klass->keep(run, project, outcome) && !g_cancellable_is_cancelled(own(run)->cancellable);
  klass->free_outcome(outcome);
  if (more) {
    own(run)->number++;
    klass->next(run);
  } else {
    cw_sound_run_end(run);
  }
}

/* Looks at a recording, which it takes over; NULL: at one that the practice bay computes. */
void cw_sound_run_look(CwSoundRun *run, CwRecording *recording)
{
  Analysis *analysis = g_new0(Analysis, 1);
  *analysis = (Analysis){cw_record_snapshot(cw_session_get_vehicle(own(run)->session)), recording};
  if (recording)
    cw_sound_run_say(run, _("Looking at what was recorded"), CW_NO_INTEGER);
  g_autoptr(GTask) task = g_task_new(run, own(run)->cancellable, on_analysed, NULL);
  g_task_set_task_data(task, analysis, analysis_free);
  g_task_run_in_thread(task, analyse);
}

/* --- playing ---------------------------------------------------------------------------------------------
 */

static void on_played(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(CwSoundRun) run = data;
  g_autoptr(GError) error = NULL;
  g_autofree char *reason = NULL;
  g_autoptr(CwSoundTake) take = cw_sound_client_play_finish(CW_SOUND_CLIENT(source), result, &error);
  if (!own(run)->cancellable)
    return;
  if (take && !cw_sound_take_is_whole(take, &reason))
    g_set_error_literal(&error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE, reason);
  if (error)
    cw_sound_run_fail(run, error);
  else if (!cw_session_get_project(own(run)->session))
    cw_sound_run_end(run);
  else
    CW_SOUND_RUN_GET_CLASS(run)->heard(
        run, cw_recording_from_floats(take->rate_hz, take->channels, take->frames, take->sample));
}

/* A job for the desk's device at its rate; in the practice bay at the rate given. */
void cw_sound_run_prepare(CwSoundRun *run, CwSoundJob *job, double practice_rate_hz)
{
  CwSoundDesk *desk = own(run)->desk;
  const CwSoundDevice *device = cw_sound_desk_find_device(desk);
  cw_sound_job_init(job);
  job->device = cw_sound_desk_get_device(desk);
  job->rate_hz = cw_sound_desk_is_practice(desk) || !device ? practice_rate_hz : device->rate_hz;
  job->inputs = device ? MIN(device->inputs, 2) : 2;
  job->limit_dbfs = CW_DESK_LIMIT_DBFS;
}

/* Leads the job's next channel to a processor's output, protected by what its speaker bears: to the device's
 * own output where there are so many, else to the first, which the person then leads to the one output. */
void cw_sound_run_lead(CwSoundRun *run, CwSoundJob *job, gint64 output)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(own(run)->desk);
  CwRecord *speaker = cw_vehicle_find_speaker(cw_session_get_vehicle(own(run)->session), output);
  guint channel = job->route.count++;
  job->route.value[channel] = !device || output <= device->outputs ? (guint32)(output - 1) : 0;
  job->protect_hz.value[channel] = PROTECT_PART * cw_job_lowest_hz(speaker);
  job->protect_hz.count = job->route.count;
}

/* Plays a feed on the job's routes, its last channel on those that it has no channel for, and records a
 * little longer than it; without a feed it records the job's frames. */
void cw_sound_run_play(CwSoundRun *run, CwSoundJob *job, const CwRecording *feed)
{
  guint routes = job->route.count;
  g_clear_pointer(&own(run)->feed, g_free);
  if (feed) {
    own(run)->feed = g_new(float, feed->frames *routes);
    for (gsize i = 0; i < feed->frames; i++)
      for (guint c = 0; c < routes; c++)
        own(run)->feed[i * routes + c] = (float)feed->channel[MIN(c, feed->channels - 1)][i];
    job->feed = own(run)->feed;
    job->feed_frames = feed->frames;
    job->record_frames = feed->frames + (gsize)(ROOM_AFTER_S * job->rate_hz);
  }
  cw_sound_client_play_async(cw_sound_desk_get_client(own(run)->desk), job, own(run)->cancellable, on_played,
                             g_object_ref(run));
}
