/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/map_recorder.h"

#include "job/feeds.h"
#include "job/hands.h"
#include "window/practice.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define ROOM_AFTER_S 0.35 /* for the latency of the way out and back */
#define PROTECT_PART 0.25 /* two octaves below what the speaker bears */
#define SOUND_SILENT 2    /* of the map's choice "sounded" */

struct _CwMapRecorder {
  GObject parent_instance;
  CwSession *session;
  CwSoundDesk *desk;
  CwProvingPlace place;
  guint next;                /* the speaker that is on, in the sheet's order */
  GCancellable *cancellable; /* not NULL while running */
  float *feed;               /* must stay while it is played */
};

G_DEFINE_FINAL_TYPE(CwMapRecorder, cw_map_recorder, G_TYPE_OBJECT)

static guint changed;

static void hear_next(CwMapRecorder *recorder);

static void recorder_dispose(GObject *object)
{
  CwMapRecorder *recorder = CW_MAP_RECORDER(object);
  if (recorder->cancellable)
    g_cancellable_cancel(recorder->cancellable);
  g_clear_object(&recorder->cancellable);
  g_clear_object(&recorder->session);
  g_clear_object(&recorder->desk);
  g_clear_pointer(&recorder->feed, g_free);
  G_OBJECT_CLASS(cw_map_recorder_parent_class)->dispose(object);
}

static void cw_map_recorder_class_init(CwMapRecorderClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = recorder_dispose;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
}

static void cw_map_recorder_init(CwMapRecorder *recorder)
{
}

CwMapRecorder *cw_map_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  CwMapRecorder *recorder = g_object_new(CW_TYPE_MAP_RECORDER, NULL);
  recorder->session = g_object_ref(session);
  recorder->desk = g_object_ref(desk);
  g_signal_connect_object(desk, "stop-asked", G_CALLBACK(cw_map_recorder_stop), recorder, G_CONNECT_SWAPPED);
  return recorder;
}

gboolean cw_map_recorder_is_running(CwMapRecorder *recorder)
{
  return recorder->cancellable != NULL;
}

gboolean cw_map_was_heard(CwRecord *vehicle, CwProvingPlace place)
{
  CwList *speakers = cw_record_get_children(vehicle, "speakers");
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *proof =
        cw_job_find_map_proof(vehicle, cw_record_get_integer(cw_list_get(speakers, i), "output"));
    if (!proof || (isnan(cw_record_get_number(proof, place == CW_PROVING_LEFT ? "arrival_left_ms"
                                                                              : "arrival_right_ms")) &&
                   cw_record_get_choice(proof, "sounded") != SOUND_SILENT))
      return FALSE;
  }
  return cw_list_get_length(speakers) > 0;
}

static CwRecord *current_speaker(CwMapRecorder *recorder)
{
  CwList *speakers = cw_record_get_children(cw_session_get_vehicle(recorder->session), "speakers");
  return recorder->next < cw_list_get_length(speakers) ? cw_list_get(speakers, recorder->next) : NULL;
}

static void end(CwMapRecorder *recorder)
{
  g_clear_object(&recorder->cancellable);
  g_clear_pointer(&recorder->feed, g_free);
  cw_sound_desk_set_playing(recorder->desk, NULL);
  cw_session_set_playing(recorder->session, CW_NO_INTEGER);
  g_signal_emit(recorder, changed, 0);
}

/* After the last output: with both places heard the map is judged. */
static void conclude(CwMapRecorder *recorder)
{
  CwProject *project = cw_session_get_project(recorder->session);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(GError) error = NULL;
  gboolean both = cw_map_was_heard(vehicle, CW_PROVING_LEFT) && cw_map_was_heard(vehicle, CW_PROVING_RIGHT);
  end(recorder);
  if (!both)
    cw_session_tell(recorder->session, CW_TOLD_DONE,
                    _("Heard. Now put the microphone at the other side of the head and listen again."));
  else if (!cw_job_prove_judge(project, cw_session_get_seat(recorder->session), &error))
    cw_session_tell(recorder->session, CW_TOLD_FAILED, _("Heard, but not judged: %s."), error->message);
  else if (cw_session_commit(recorder->session, _("Prove the channel map")))
    cw_session_tell(recorder->session, CW_TOLD_DONE, _("The channel map was judged. Look at the findings."));
}

static void end_with(CwMapRecorder *recorder, const GError *error)
{
  if (g_error_matches(error, CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED) ||
      g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED))
    cw_session_tell(recorder->session, CW_TOLD_DONE, _("Stopped. What was heard before this is kept."));
  else
    cw_session_tell(recorder->session, CW_TOLD_FAILED,
                    _("Not heard: %s. What was heard before this is kept; mend it and listen again."),
                    error->message);
  end(recorder);
}

/* --- analysis
 * ------------------------------------------------------------------------------------------------------ */

typedef struct {
  CwRecord *vehicle; /* snapshot */
  gint64 output;
  CwProvingPlace place;
  CwRecording *recording;
} Analysis;

static void analysis_free(gpointer data)
{
  Analysis *analysis = data;
  g_object_unref(analysis->vehicle);
  cw_recording_free(analysis->recording);
  g_free(analysis);
}

static void analyse(GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Analysis *analysis = data;
  GError *error = NULL;
  CwProvingOutcome *outcome =
      cw_job_prove_hear(analysis->vehicle, analysis->output, analysis->place, analysis->recording, &error);
  if (outcome)
    g_task_return_pointer(task, outcome, (GDestroyNotify)cw_proving_outcome_free);
  else
    g_task_return_error(task, error);
}

static void on_analysed(GObject *source, GAsyncResult *result, gpointer data)
{
  CwMapRecorder *recorder = CW_MAP_RECORDER(source);
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProvingOutcome) outcome = g_task_propagate_pointer(G_TASK(result), &error);
  CwProject *project = recorder->session ? cw_session_get_project(recorder->session) : NULL;
  if (!recorder->cancellable || !project)
    return;
  if (!outcome) {
    end_with(recorder, error);
    return;
  }
  g_autofree char *name = cw_say_output(cw_project_get_vehicle(project), outcome->output),
                  *what = g_strdup_printf(_("Hear %s"), name);
  cw_job_prove_store(project, outcome);
  recorder->next++;
  if (!cw_session_commit(recorder->session, what) || g_cancellable_is_cancelled(recorder->cancellable))
    end(recorder);
  else
    hear_next(recorder);
}

static void on_played(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(CwMapRecorder) recorder = data;
  g_autoptr(GError) error = NULL;
  g_autofree char *reason = NULL;
  g_autoptr(CwSoundTake) take = cw_sound_client_play_finish(CW_SOUND_CLIENT(source), result, &error);
  if (!recorder->cancellable)
    return;
  if (take && !cw_sound_take_is_whole(take, &reason))
    g_set_error_literal(&error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE, reason);
  if (error) {
    end_with(recorder, error);
    return;
  }
  Analysis *analysis = g_new0(Analysis, 1);
  *analysis = (Analysis){cw_record_snapshot(cw_session_get_vehicle(recorder->session)),
                         cw_record_get_integer(current_speaker(recorder), "output"), recorder->place,
                         cw_recording_from_floats(take->rate_hz, take->channels, take->frames, take->sample)};
  g_autoptr(GTask) task = g_task_new(recorder, recorder->cancellable, on_analysed, NULL);
  g_task_set_task_data(task, analysis, analysis_free);
  g_task_run_in_thread(task, analyse);
}

/* --- playing
 * ------------------------------------------------------------------------------------------------------- */

/* The bay's places beside the head are its second and third position. */
static void set_up_practice(CwMapRecorder *recorder, gint64 output)
{
  CwRecord *vehicle = cw_session_get_vehicle(recorder->session);
  g_autofree char *seat = g_strescape(cw_session_get_seat(recorder->session), NULL);
  g_autofree char *setup = g_strdup_printf(
      "{\"car\": \"%s\", \"seat\": \"%s\", \"position\": %d, \"seed\": %d}", cw_practice_car_of(vehicle),
      seat, recorder->place == CW_PROVING_LEFT ? 1 : 2, (int)(7000 + 10 * output));
  cw_sound_client_set_practice(cw_sound_desk_get_client(recorder->desk), setup);
}

static void play(CwMapRecorder *recorder, CwRecord *speaker, const CwSweepFeed *feed, double rate_hz)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(recorder->desk);
  gint64 output = cw_record_get_integer(speaker, "output");
  CwSoundJob job;
  cw_sound_job_init(&job);
  job.device = cw_sound_desk_get_device(recorder->desk);
  job.rate_hz = cw_sound_desk_is_practice(recorder->desk) || !device ? rate_hz : device->rate_hz;
  g_autoptr(CwRecording) rendered = cw_job_render_feed(feed, job.rate_hz);
  g_free(recorder->feed);
  recorder->feed = g_new(float, rendered->frames);
  for (gsize i = 0; i < rendered->frames; i++)
    recorder->feed[i] = (float)rendered->channel[0][i];
  job.feed = recorder->feed;
  job.feed_frames = rendered->frames;
  job.route.count = job.protect_hz.count = 1;
  job.route.value[0] = !device || output <= device->outputs ? (guint32)(output - 1) : 0;
  job.protect_hz.value[0] = PROTECT_PART * cw_job_lowest_hz(speaker);
  job.limit_dbfs = CW_DESK_LIMIT_DBFS;
  job.inputs = device ? MIN(device->inputs, 2) : 2;
  job.record_frames = rendered->frames + (gsize)(ROOM_AFTER_S * job.rate_hz);
  cw_sound_client_play_async(cw_sound_desk_get_client(recorder->desk), &job, recorder->cancellable, on_played,
                             g_object_ref(recorder));
}

static void hear_next(CwMapRecorder *recorder)
{
  CwRecord *vehicle = cw_session_get_vehicle(recorder->session), *speaker = current_speaker(recorder);
  g_autoptr(GError) error = NULL;
  CwSweepFeed feed;
  double rate_hz;
  if (!speaker) {
    conclude(recorder);
    return;
  }
  gint64 output = cw_record_get_integer(speaker, "output");
  g_autofree char *name = cw_say_speaker(speaker);
  g_autofree char *words = g_strdup_printf(
      recorder->place == CW_PROVING_LEFT ? _("%s, heard left of the head") : _("%s, heard right of the head"),
      name);
  if (!cw_job_proving_feed(vehicle, output, &feed, &rate_hz, &error)) {
    end_with(recorder, error);
    return;
  }
  cw_sound_desk_set_playing(recorder->desk, words);
  cw_session_set_playing(recorder->session, output);
  g_signal_emit(recorder, changed, 0);
  if (cw_sound_desk_is_practice(recorder->desk))
    set_up_practice(recorder, output);
  play(recorder, speaker, &feed, rate_hz);
}

/* Listens to every output at a place. Nothing while it runs. */
void cw_map_recorder_start(CwMapRecorder *recorder, CwProvingPlace place)
{
  if (recorder->cancellable || !cw_session_get_project(recorder->session))
    return;
  recorder->place = place;
  recorder->next = 0;
  recorder->cancellable = g_cancellable_new();
  hear_next(recorder);
}

/* Ends with the output that is on, which is not kept. */
void cw_map_recorder_stop(CwMapRecorder *recorder)
{
  if (recorder->cancellable)
    g_cancellable_cancel(recorder->cancellable);
}
