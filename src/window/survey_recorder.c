/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/survey_recorder.h"

#include "job/practice_radio.h"
#include "job/tracks.h"
#include "window/practice.h"
#include "window/survey_work.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>
#include <string.h>

#define PRACTICE_RATE_HZ 48000.0
#define EXTRA_S 6.0 /* for the hand that starts the track */

struct _CwSurveyRecorder {
  GObject parent_instance;
  CwSession *session;
  CwSoundDesk *desk;
  CwRecord *index;      /* of tracks and takes */
  CwSurveyHeard *heard; /* NULL before the first recording */
  GPtrArray *faults;    /* by take: a sentence, or NULL */
  guint
      *counts; /* by take: recordings that are fit for use; kept here, as another thread may be in the work */
  guint take;  /* that is on */
  CwSurveySetting setting;   /* of it */
  GCancellable *cancellable; /* not NULL while running */
};

G_DEFINE_FINAL_TYPE(CwSurveyRecorder, cw_survey_recorder, G_TYPE_OBJECT)

static guint changed;

static void recorder_dispose(GObject *object)
{
  CwSurveyRecorder *recorder = CW_SURVEY_RECORDER(object);
  if (recorder->cancellable)
    g_cancellable_cancel(recorder->cancellable);
  g_clear_object(&recorder->cancellable);
  g_clear_object(&recorder->session);
  g_clear_object(&recorder->desk);
  g_clear_object(&recorder->index);
  g_clear_pointer(&recorder->heard, cw_survey_heard_unref);
  g_clear_pointer(&recorder->faults, g_ptr_array_unref);
  g_clear_pointer(&recorder->counts, g_free);
  G_OBJECT_CLASS(cw_survey_recorder_parent_class)->dispose(object);
}

static void cw_survey_recorder_class_init(CwSurveyRecorderClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = recorder_dispose;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
}

static void cw_survey_recorder_init(CwSurveyRecorder *recorder)
{
  recorder->index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  recorder->faults = g_ptr_array_new_with_free_func(g_free);
  g_ptr_array_set_size(recorder->faults,
                       (int)cw_list_get_length(cw_record_get_children(recorder->index, "takes")));
  recorder->counts = g_new0(guint, recorder->faults->len);
}

CwSurveyRecorder *cw_survey_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  CwSurveyRecorder *recorder = g_object_new(CW_TYPE_SURVEY_RECORDER, NULL);
  recorder->session = g_object_ref(session);
  recorder->desk = g_object_ref(desk);
  g_signal_connect_object(desk, "stop-asked", G_CALLBACK(cw_survey_recorder_stop), recorder,
                          G_CONNECT_SWAPPED);
  return recorder;
}

CwList *cw_survey_recorder_get_takes(CwSurveyRecorder *recorder)
{
  return cw_record_get_children(recorder->index, "takes");
}

static CwRecord *take_at(CwSurveyRecorder *recorder, guint take)
{
  return cw_list_get(cw_survey_recorder_get_takes(recorder), take);
}

/* How long the take's track lasts. */
double cw_survey_recorder_get_seconds(CwSurveyRecorder *recorder, guint take)
{
  CwRecord *track = cw_list_find_text(cw_record_get_children(recorder->index, "tracks"), "file",
                                      cw_record_get_text(take_at(recorder, take), "track"));
  return track ? cw_record_get_number(track, "seconds") : 0;
}

gboolean cw_survey_recorder_is_running(CwSurveyRecorder *recorder)
{
  return recorder->cancellable != NULL;
}

guint cw_survey_recorder_count(CwSurveyRecorder *recorder, guint take)
{
  return recorder->counts[take];
}

const char *cw_survey_recorder_get_fault(CwSurveyRecorder *recorder, guint take)
{
  return g_ptr_array_index(recorder->faults, take);
}

guint cw_survey_recorder_find_next(CwSurveyRecorder *recorder)
{
  guint take = 0, count = cw_list_get_length(cw_survey_recorder_get_takes(recorder));
  while (take < count && cw_survey_recorder_count(recorder, take))
    take++;
  return take;
}

gpointer cw_survey_recorder_ref_work(CwSurveyRecorder *recorder)
{
  return recorder->heard ? cw_survey_heard_ref(recorder->heard) : NULL;
}

static void set_fault(CwSurveyRecorder *recorder, guint take, const char *fault)
{
  g_free(g_ptr_array_index(recorder->faults, take));
  g_ptr_array_index(recorder->faults, take) = g_strdup(fault);
}

void cw_survey_recorder_begin_anew(CwSurveyRecorder *recorder)
{
  cw_survey_recorder_stop(recorder);
  g_clear_pointer(&recorder->heard, cw_survey_heard_unref);
  for (guint take = 0; take < recorder->faults->len; take++)
    set_fault(recorder, take, NULL);
  memset(recorder->counts, 0, recorder->faults->len * sizeof *recorder->counts);
  g_signal_emit(recorder, changed, 0);
}

static void end(CwSurveyRecorder *recorder)
{
  g_clear_object(&recorder->cancellable);
  cw_sound_desk_set_playing(recorder->desk, NULL);
  g_signal_emit(recorder, changed, 0);
}

/* Ends for a reason that the person must know. */
static void end_with(CwSurveyRecorder *recorder, GError *error)
{
  if (g_error_matches(error, CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED) ||
      g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED))
    cw_session_tell(recorder->session, CW_TOLD_DONE,
                    _("Stopped. The takes before this one are kept. Stop the track too."));
  else
    cw_session_tell(
        recorder->session, CW_TOLD_FAILED,
        _("Not recorded: %s. The takes before this one are kept; look at the cables, then try again."),
        error->message);
  end(recorder);
}

static void on_heard(GObject *source, GAsyncResult *result, gpointer data)
{
  CwSurveyRecorder *recorder = CW_SURVEY_RECORDER(source);
  g_autofree char *fault = g_task_propagate_pointer(G_TASK(result), NULL);
  if (!recorder->cancellable)
    return;
  set_fault(recorder, recorder->take, fault);
  recorder->counts[recorder->take] =
      cw_survey_heard_count(recorder->heard, take_at(recorder, recorder->take));
  if (fault)
    cw_session_tell(recorder->session, CW_TOLD_ATTEND, _("Not fit for use: %s"), fault);
  end(recorder);
}

static void on_recorded(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(CwSurveyRecorder) recorder = data;
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
  cw_sound_desk_set_playing(recorder->desk, _("Listening to what was recorded. Stop the track."));
  if (!recorder->heard)
    recorder->heard = cw_survey_heard_new(cw_session_get_vehicle(recorder->session), recorder->setting.volts);
  cw_survey_heard_hear_async(
      recorder->heard, take_at(recorder, recorder->take), &recorder->setting,
      cw_recording_from_floats(take->rate_hz, take->channels, take->frames, take->sample), G_OBJECT(recorder),
      on_heard);
}

/* The practice radio is told what it has on its stick, and how it is set. */
static gboolean set_up_practice(CwSurveyRecorder *recorder, CwRecord *take, GError **error)
{
  g_autofree char *folder = g_build_filename(g_get_user_cache_dir(), "cabinwright", "tracks", NULL);
  g_autofree char *path = g_build_filename(folder, cw_record_get_text(take, "track"), NULL);
  if (!g_file_test(path, G_FILE_TEST_EXISTS) && !cw_job_write_tracks(folder, CW_TRACKS_RATE_HZ, error))
    return FALSE;
  g_autofree char *setup = cw_job_practice_radio_setup(cw_session_get_vehicle(recorder->session), take, path,
                                                       recorder->setting.seat_setting, recorder->setting.lead,
                                                       recorder->setting.leads, error);
  if (setup)
    cw_sound_client_set_practice(cw_sound_desk_get_client(recorder->desk), setup);
  return setup != NULL;
}

static void record(CwSurveyRecorder *recorder, CwRecord *take)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(recorder->desk);
  gboolean practice = cw_sound_desk_is_practice(recorder->desk);
  CwSoundJob job;
  cw_sound_job_init(&job);
  job.device = cw_sound_desk_get_device(recorder->desk);
  job.rate_hz = practice || !device ? PRACTICE_RATE_HZ : device->rate_hz;
  job.inputs = recorder->setting.leads;
  job.record_frames =
      (gsize)((cw_survey_recorder_get_seconds(recorder, recorder->take) + EXTRA_S) * job.rate_hz);
  cw_sound_client_play_async(cw_sound_desk_get_client(recorder->desk), &job, recorder->cancellable,
                             on_recorded, g_object_ref(recorder));
}

/* Records a take: as long as its track, and a little for the hand. Nothing while it runs. */
void cw_survey_recorder_start(CwSurveyRecorder *recorder, guint take, const CwSurveySetting *setting)
{
  g_autoptr(GError) error = NULL;
  if (recorder->cancellable || !cw_session_get_project(recorder->session))
    return;
  recorder->take = take;
  recorder->setting = *setting;
  recorder->setting.seat_setting = g_intern_string(setting->seat_setting);
  recorder->cancellable = g_cancellable_new();
  if (cw_sound_desk_is_practice(recorder->desk) &&
      !set_up_practice(recorder, take_at(recorder, take), &error)) {
    end_with(recorder, error);
    return;
  }
  g_autofree char *words =
      g_strdup_printf(_("Recording: play %s now"), cw_record_get_text(take_at(recorder, take), "track"));
  cw_sound_desk_set_playing(recorder->desk, words);
  g_signal_emit(recorder, changed, 0);
  record(recorder, take_at(recorder, take));
}

/* Ends with the take that is on, which is not kept. */
void cw_survey_recorder_stop(CwSurveyRecorder *recorder)
{
  if (recorder->cancellable)
    g_cancellable_cancel(recorder->cancellable);
}
