/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/proof_recorder.h"

#include "handover/table.h"
#include "job/feeds.h"
#include "job/practice.h"
#include "window/practice.h"

#include <glib/gi18n-lib.h>
#include <string.h>

#define ROOM_AFTER_S 0.35 /* for the latency of the way out and back, and the cabin's decay */

struct _CwProofRecorder {
  GObject parent_instance;
  CwSession *session;
  CwSoundDesk *desk;
  GPtrArray *wanted;
  guint next; /* of the wanted, the one that is on */
  guint kept; /* since the start */
  CwRecordingWay way;
  GCancellable *cancellable; /* not NULL while running */
  float *feed;               /* must stay while it is played */
};

G_DEFINE_FINAL_TYPE(CwProofRecorder, cw_proof_recorder, G_TYPE_OBJECT)

static guint changed;

static void record_next(CwProofRecorder *recorder);

static void recorder_dispose(GObject *object)
{
  CwProofRecorder *recorder = CW_PROOF_RECORDER(object);
  if (recorder->cancellable)
    g_cancellable_cancel(recorder->cancellable);
  g_clear_object(&recorder->cancellable);
  g_clear_object(&recorder->session);
  g_clear_object(&recorder->desk);
  g_clear_pointer(&recorder->wanted, g_ptr_array_unref);
  g_clear_pointer(&recorder->feed, g_free);
  G_OBJECT_CLASS(cw_proof_recorder_parent_class)->dispose(object);
}

static void cw_proof_recorder_class_init(CwProofRecorderClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = recorder_dispose;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
}

static void cw_proof_recorder_init(CwProofRecorder *recorder)
{
}

CwProofRecorder *cw_proof_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  CwProofRecorder *recorder = g_object_new(CW_TYPE_PROOF_RECORDER, NULL);
  recorder->session = g_object_ref(session);
  recorder->desk = g_object_ref(desk);
  g_signal_connect_object(desk, "stop-asked", G_CALLBACK(cw_proof_recorder_stop), recorder,
                          G_CONNECT_SWAPPED);
  return recorder;
}

static void wanted_free(gpointer data)
{
  g_free(((CwWantedProof *)data)->position);
  g_free(data);
}

GPtrArray *cw_wanted_proofs_new(void)
{
  return g_ptr_array_new_with_free_func(wanted_free);
}

void cw_wanted_proofs_add(GPtrArray *wanted, CwSum side, const char *position)
{
  CwWantedProof *proof = g_new0(CwWantedProof, 1);
  *proof = (CwWantedProof){side, g_strdup(position)};
  g_ptr_array_add(wanted, proof);
}

gboolean cw_proof_recorder_is_running(CwProofRecorder *recorder)
{
  return recorder->cancellable != NULL;
}

static const CwWantedProof *get_current(CwProofRecorder *recorder)
{
  return recorder->next < recorder->wanted->len ? g_ptr_array_index(recorder->wanted, recorder->next) : NULL;
}

static const char *say_side(CwSum side)
{
  const char *const words[CW_SUMS] = {_("left input"), _("right input"), _("both inputs")};
  return words[side];
}

/* Judges what was measured, if anything was, and ends. */
static void end(CwProofRecorder *recorder)
{
  CwProject *project = cw_session_get_project(recorder->session);
  g_autoptr(GError) error = NULL;
  g_clear_object(&recorder->cancellable);
  g_clear_pointer(&recorder->feed, g_free);
  cw_sound_desk_set_playing(recorder->desk, NULL);
  if (recorder->kept && project && cw_job_judge_proof(project, &error))
    cw_session_commit(recorder->session, _("Measure with the settings loaded"));
  else if (error)
    cw_session_tell(recorder->session, CW_TOLD_FAILED, _("Measured, but not compared: %s."), error->message);
  recorder->kept = 0;
  g_signal_emit(recorder, changed, 0);
}

static void end_with(CwProofRecorder *recorder, const GError *error)
{
  if (g_error_matches(error, CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED) ||
      g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED))
    cw_session_tell(recorder->session, CW_TOLD_DONE, _("Stopped. What was measured before this is kept."));
  else
    cw_session_tell(recorder->session, CW_TOLD_FAILED,
                    _("Not measured: %s. What was measured before this is kept; mend it and go on."),
                    error->message);
  end(recorder);
}

/* --- analysis
 * ------------------------------------------------------------------------------------------------------ */

typedef struct {
  CwRecord *vehicle; /* snapshot */
  CwSum side;
  char *position;
  CwRecording *recording; /* NULL: the practice bay computes it */
} Analysis;

static void analysis_free(gpointer data)
{
  Analysis *analysis = data;
  g_object_unref(analysis->vehicle);
  g_free(analysis->position);
  g_clear_pointer(&analysis->recording, cw_recording_free);
  g_free(analysis);
}

static guint seed_of(CwSum side, const char *position)
{
  return (g_str_hash(position) ^ (guint)side) % 100000;
}

static void analyse(GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Analysis *analysis = data;
  GError *error = NULL;
  CwProofTake *take = NULL;
  if (!analysis->recording) {
    g_autoptr(CwPracticeBay) bay = cw_job_practice_tuned_bay(analysis->vehicle, &error);
    if (bay)
      analysis->recording =
          cw_job_practice_record_side(bay, analysis->vehicle, analysis->side, analysis->position,
                                      seed_of(analysis->side, analysis->position), &error);
  }
  if (analysis->recording)
    take = cw_job_proof_analyse(analysis->vehicle, analysis->side, analysis->position, analysis->recording,
                                &error);
  if (take)
    g_task_return_pointer(task, take, (GDestroyNotify)cw_proof_take_free);
  else
    g_task_return_error(task, error);
}

static void on_analysed(GObject *source, GAsyncResult *result, gpointer data)
{
  CwProofRecorder *recorder = CW_PROOF_RECORDER(source);
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProofTake) take = g_task_propagate_pointer(G_TASK(result), &error);
  CwProject *project = recorder->session ? cw_session_get_project(recorder->session) : NULL;
  if (!recorder->cancellable || !project)
    return;
  if (!take) {
    end_with(recorder, error);
    return;
  }
  if (take->faults) {
    cw_session_tell(recorder->session, CW_TOLD_ATTEND, _("The measurement at %s was refused: %s."),
                    get_current(recorder)->position,
                    take->reasons[0] ? take->reasons[0] : _("no reason is known"));
    end(recorder);
    return;
  }
  cw_job_proof_store(project, take);
  recorder->kept++;
  recorder->next++;
  if (g_cancellable_is_cancelled(recorder->cancellable))
    end(recorder);
  else
    record_next(recorder);
}

static void begin_analysis(CwProofRecorder *recorder, CwRecording *recording)
{
  const CwWantedProof *wanted = get_current(recorder);
  Analysis *analysis = g_new0(Analysis, 1);
  *analysis = (Analysis){cw_record_snapshot(cw_session_get_vehicle(recorder->session)), wanted->side,
                         g_strdup(wanted->position), recording};
  g_autoptr(GTask) task = g_task_new(recorder, recorder->cancellable, on_analysed, NULL);
  g_task_set_task_data(task, analysis, analysis_free);
  g_task_run_in_thread(task, analyse);
}

/* --- playing
 * ------------------------------------------------------------------------------------------------------- */

static void on_played(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(CwProofRecorder) recorder = data;
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
  begin_analysis(recorder,
                 cw_recording_from_floats(take->rate_hz, take->channels, take->frames, take->sample));
}

/* The bay's first route of the processor's inputs; -1 with error where there is none. The bay has the
 * settings in its processor then. */
static int set_up_practice(CwProofRecorder *recorder, const CwWantedProof *wanted, GError **error)
{
  CwRecord *vehicle = cw_session_get_vehicle(recorder->session);
  g_autoptr(CwPracticeBay) bay = cw_job_practice_tuned_bay(vehicle, error);
  g_autoptr(CwTable) table = bay ? cw_table_new(vehicle, 0, error) : NULL;
  g_autofree char *text = table ? cw_table_write(table, "json", FALSE, NULL, error) : NULL;
  if (!text)
    return -1;
  const char *slash = strchr(wanted->position, '/');
  g_autofree char *seat = g_strndup(wanted->position, (gsize)(slash - wanted->position)),
                  *escaped = g_strescape(seat, NULL);
  g_autofree char *setup =
      g_strdup_printf("{\"car\": \"%s\", \"seat\": \"%s\", \"position\": %d, \"seed\": %u, \"table\": %s}",
                      cw_practice_car_of(vehicle), escaped, (int)g_ascii_strtoll(slash + 1, NULL, 10) - 1,
                      seed_of(wanted->side, wanted->position), text);
  cw_sound_client_set_practice(cw_sound_desk_get_client(recorder->desk), setup);
  return (int)cw_practice_bay_get_outputs(bay) - 2;
}

/* The feed, once for each input. */
static void render(CwProofRecorder *recorder, CwSoundJob *job)
{
  CwRecord *vehicle = cw_session_get_vehicle(recorder->session);
  const CwSoundDevice *device = cw_sound_desk_find_device(recorder->desk);
  double rate_hz;
  CwSweepFeed feed = cw_job_proof_feed(vehicle, &rate_hz);
  job->rate_hz = cw_sound_desk_is_practice(recorder->desk) || !device ? rate_hz : device->rate_hz;
  g_autoptr(CwRecording) rendered = cw_job_render_feed(&feed, job->rate_hz);
  g_free(recorder->feed);
  recorder->feed = g_new(float, rendered->frames * job->route.count);
  for (gsize i = 0; i < rendered->frames * job->route.count; i++)
    recorder->feed[i] = (float)rendered->channel[0][i / job->route.count];
  job->feed = recorder->feed;
  job->feed_frames = rendered->frames;
  job->inputs = device ? MIN(device->inputs, 2) : 2;
  job->record_frames = rendered->frames + (gsize)(ROOM_AFTER_S * job->rate_hz);
}

static void play(CwProofRecorder *recorder, const CwWantedProof *wanted, int left)
{
  CwSoundJob job;
  cw_sound_job_init(&job);
  job.device = cw_sound_desk_get_device(recorder->desk);
  job.route.count = wanted->side == CW_SUM_BOTH ? 2 : 1;
  job.route.value[0] = (guint32)(wanted->side == CW_SUM_RIGHT ? left + 1 : left);
  job.route.value[1] = (guint32)(left + 1);
  job.limit_dbfs = CW_DESK_LIMIT_DBFS;
  job.gain_db = MIN(cw_sound_desk_get_level_dbfs(recorder->desk) - CW_FEED_LEVEL_DBFS, 0);
  render(recorder, &job);
  cw_sound_client_play_async(cw_sound_desk_get_client(recorder->desk), &job, recorder->cancellable, on_played,
                             g_object_ref(recorder));
}

static void record_next(CwProofRecorder *recorder)
{
  const CwWantedProof *wanted = get_current(recorder);
  g_autoptr(GError) error = NULL;
  if (!wanted) {
    end(recorder);
    return;
  }
  g_autofree char *words = g_strdup_printf(_("%s at %s, %u of %u"), say_side(wanted->side), wanted->position,
                                           recorder->next + 1, recorder->wanted->len);
  cw_sound_desk_set_playing(recorder->desk, words);
  g_signal_emit(recorder, changed, 0);
  if (recorder->way == CW_RECORD_COMPUTED) {
    begin_analysis(recorder, NULL);
    return;
  }
  int left = cw_sound_desk_is_practice(recorder->desk) ? set_up_practice(recorder, wanted, &error) : 0;
  if (left < 0)
    end_with(recorder, error);
  else
    play(recorder, wanted, left);
}

void cw_proof_recorder_start(CwProofRecorder *recorder, GPtrArray *wanted, CwRecordingWay way)
{
  if (recorder->cancellable || !cw_session_get_project(recorder->session)) {
    g_ptr_array_unref(wanted);
    return;
  }
  g_clear_pointer(&recorder->wanted, g_ptr_array_unref);
  recorder->wanted = wanted;
  recorder->next = recorder->kept = 0;
  recorder->way = way;
  recorder->cancellable = g_cancellable_new();
  record_next(recorder);
}

/* Ends with the measurement that is on, which is not kept. */
void cw_proof_recorder_stop(CwProofRecorder *recorder)
{
  if (recorder->cancellable)
    g_cancellable_cancel(recorder->cancellable);
}
