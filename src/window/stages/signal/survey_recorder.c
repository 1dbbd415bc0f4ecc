/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/survey_recorder.h"

#include "job/practice/practice_radio.h"
#include "job/survey/tracks.h"
#include "job/survey/volts.h"
#include "window/stages/signal/survey_work.h"
#include "window/state/practice_vehicle.h"
#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <string.h>

#define PRACTICE_RATE_HZ 48000.0
#define EXTRA_S 6.0 /* for the hand that starts the track */
#define TONE_S 7.0  /* of the volts track, which plays already, or begins meanwhile */

struct _CwSurveyRecorder {
  CwSoundRun parent_instance;
  CwRecord *index;      /* of tracks and takes */
  CwSurveyHeard *heard; /* NULL before the first recording */
  GPtrArray *faults;    /* by take, the tone last: a sentence, or NULL */
  guint
      *counts; /* by take: recordings that are fit for use; kept here, as another thread may be in the work */
  guint64 *heard_leads; /* by take: a bit a lead */
  CwRecord *volts_take; /* how the volts track is played */
  CwRecording *tone;    /* the last recording of it */
  guint tone_channel;
  int tone_lead;
  guint take;              /* that is on */
  CwSurveySetting setting; /* of it */
  CwSurveySetting whole;   /* the same before pairs were made of it */
};

G_DEFINE_FINAL_TYPE(CwSurveyRecorder, cw_survey_recorder, CW_TYPE_SOUND_RUN)

CwList *cw_survey_recorder_get_takes(CwSurveyRecorder *recorder)
{
  return cw_track_index_get_takes(recorder->index);
}

static CwRecord *take_at(CwSurveyRecorder *recorder, guint take)
{
  return cw_list_get(cw_survey_recorder_get_takes(recorder), take);
}

/* How long the take's track lasts. */
double cw_survey_recorder_get_seconds(CwSurveyRecorder *recorder, guint take)
{
  CwRecord *track = cw_list_find_text_at(cw_track_index_get_tracks(recorder->index), CW_TRACK_FIELD_FILE,
                                         cw_track_take_get_track(take_at(recorder, take)));
  return track ? cw_track_get_seconds(track) : 0;
}

guint cw_survey_recorder_count(CwSurveyRecorder *recorder, guint take)
{
  return recorder->counts[take];
}

const char *cw_survey_recorder_get_fault(CwSurveyRecorder *recorder, guint take)
{
  return g_ptr_array_index(recorder->faults, take);
}

static guint64 bit_of(int lead)
{
  return G_GUINT64_CONSTANT(1) << (lead - 1);
}

guint cw_survey_recorder_count_leads(CwSurveyRecorder *recorder, guint take, const CwSurveySetting *setting)
{
  guint count = 0;
  for (guint i = 0; i < setting->leads; i++)
    count += (recorder->heard_leads[take] & bit_of(setting->lead[i])) != 0;
  return count;
}

int cw_survey_recorder_get_second(CwSurveyRecorder *recorder, guint take, const CwSurveySetting *setting)
{
  for (guint i = 1; i < setting->leads; i++)
    if (!(recorder->heard_leads[take] & bit_of(setting->lead[i])))
      return setting->lead[i];
  return setting->lead[MIN(1, setting->leads - 1)];
}

static gboolean is_complete(CwSurveyRecorder *recorder, guint take)
{
  const CwSurveySetting *whole = &recorder->whole;
  return recorder->counts[take] &&
         (!whole->in_pairs || cw_survey_recorder_count_leads(recorder, take, whole) == whole->leads);
}

guint cw_survey_recorder_find_next(CwSurveyRecorder *recorder, guint from)
{
  guint count = cw_list_get_length(cw_survey_recorder_get_takes(recorder));
  for (guint i = 0; i < count; i++)
    if (!is_complete(recorder, (from + i) % count))
      return (from + i) % count;
  return count;
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
  cw_sound_run_stop(CW_SOUND_RUN(recorder));
  g_clear_pointer(&recorder->heard, cw_survey_heard_unref);
  g_clear_pointer(&recorder->tone, cw_recording_free);
  for (guint take = 0; take < recorder->faults->len; take++)
    set_fault(recorder, take, NULL);
  memset(recorder->counts, 0, recorder->faults->len * sizeof *recorder->counts);
  memset(recorder->heard_leads, 0, recorder->faults->len * sizeof *recorder->heard_leads);
  g_signal_emit_by_name(recorder, "changed");
}

static void tell(CwSoundRun *run, const char *fault)
{
  CwSession *session = cw_sound_run_get_session(run);
  if (fault)
    cw_session_tell(
        session, CW_TOLD_FAILED,
        _("Not recorded: %s. The takes before this one are kept; look at the cables, then try again."),
        fault);
  else
    cw_session_tell(session, CW_TOLD_DONE,
                    _("Stopped. The takes before this one are kept. Stop the track too."));
}

static void on_heard(GObject *source, GAsyncResult *result, gpointer data)
{
  CwSurveyRecorder *recorder = CW_SURVEY_RECORDER(source);
  CwSoundRun *run = CW_SOUND_RUN(source);
  g_autofree char *fault = g_task_propagate_pointer(G_TASK(result), NULL);
  if (!cw_sound_run_is_running(run))
    return;
  if (!recorder->heard) { /* begun anew meanwhile */
    cw_sound_run_end(run);
    return;
  }
  set_fault(recorder, recorder->take, fault);
  for (guint i = 0; !fault && i < recorder->setting.leads; i++)
    recorder->heard_leads[recorder->take] |= bit_of(recorder->setting.lead[i]);
  recorder->counts[recorder->take] =
      cw_survey_heard_count(recorder->heard, take_at(recorder, recorder->take));
  if (fault)
    cw_session_tell(cw_sound_run_get_session(run), CW_TOLD_ATTEND, _("Not fit for use: %s"), fault);
  cw_sound_run_end(run);
}

const CwRecording *cw_survey_recorder_get_tone(CwSurveyRecorder *recorder)
{
  return recorder->tone;
}

guint cw_survey_recorder_get_tone_channel(CwSurveyRecorder *recorder)
{
  return recorder->tone_channel;
}

int cw_survey_recorder_get_tone_lead(CwSurveyRecorder *recorder)
{
  return recorder->tone_lead;
}

/* It is counted after the takes. */
static guint tone_number(CwSurveyRecorder *recorder)
{
  return cw_list_get_length(cw_survey_recorder_get_takes(recorder));
}

gboolean cw_survey_recorder_is_at_tone(CwSurveyRecorder *recorder)
{
  return recorder->take == tone_number(recorder);
}

void cw_survey_recorder_set_volts(CwSurveyRecorder *recorder, double volts)
{
  if (recorder->heard && !cw_sound_run_is_running(CW_SOUND_RUN(recorder)))
    cw_survey_heard_set_volts(recorder->heard, volts);
}

/* Takes over the recording. */
static void hear_tone(CwSurveyRecorder *recorder, CwRecording *recording)
{
  CwVoltsToneReading reading;
  g_autoptr(GError) error = NULL;
  g_clear_pointer(&recorder->tone, cw_recording_free);
  recorder->tone = recording;
  recorder->counts[recorder->take] =
      cw_job_hear_volts_tone(recording, recorder->tone_channel, &reading, &error);
  set_fault(recorder, recorder->take, error ? error->message : NULL);
}

static void heard(CwSoundRun *run, CwRecording *recording)
{
  CwSurveyRecorder *recorder = CW_SURVEY_RECORDER(run);
  if (cw_survey_recorder_is_at_tone(recorder)) {
    hear_tone(recorder, recording);
    cw_sound_run_end(run);
    return;
  }
  cw_sound_run_say(run, _("Listening to what was recorded. Stop the track."), CW_NO_INTEGER);
  if (!recorder->heard)
    recorder->heard =
        cw_survey_heard_new(cw_session_get_vehicle(cw_sound_run_get_session(run)), recorder->setting.volts);
  cw_survey_heard_hear_async(recorder->heard, take_at(recorder, recorder->take), &recorder->setting,
                             recording, G_OBJECT(run), on_heard);
}

/* The practice radio is told what it has on its stick, and how it is set. */
static gboolean set_up_practice(CwSurveyRecorder *recorder, CwRecord *take, GError **error)
{
  CwSoundRun *run = CW_SOUND_RUN(recorder);
  g_autofree char *folder = g_build_filename(g_get_user_cache_dir(), "cabinwright", "tracks", NULL);
  g_autofree char *path = g_build_filename(folder, cw_track_take_get_track(take), NULL);
  if (!g_file_test(path, G_FILE_TEST_EXISTS) &&
      !cw_job_write_tracks(folder, CW_TRACKS_RATE_HZ, CW_REPLACE_OWN, error))
    return FALSE;
  g_autofree char *setup = cw_job_practice_radio_setup(
      cw_session_get_vehicle(cw_sound_run_get_session(run)), take, path, recorder->setting.seat_setting,
      recorder->setting.lead, recorder->setting.leads, error);
  if (setup)
    cw_sound_client_set_practice(cw_sound_desk_get_client(cw_sound_run_get_desk(run)), setup);
  return setup != NULL;
}

/* As long as the take's track, and a little for the hand. */
static void next(CwSoundRun *run)
{
  CwSurveyRecorder *recorder = CW_SURVEY_RECORDER(run);
  CwRecord *take =
      cw_survey_recorder_is_at_tone(recorder) ? recorder->volts_take : take_at(recorder, recorder->take);
  double seconds = cw_survey_recorder_is_at_tone(recorder)
                       ? TONE_S
                       : cw_survey_recorder_get_seconds(recorder, recorder->take) + EXTRA_S;
  g_autoptr(GError) error = NULL;
  CwSoundJob job;
  if (cw_sound_desk_is_practice(cw_sound_run_get_desk(run)) && !set_up_practice(recorder, take, &error)) {
    cw_sound_run_fail(run, error);
    return;
  }
  g_autofree char *words = g_strdup_printf(_("Recording: play %s now"), cw_track_take_get_track(take));
  cw_sound_run_say(run, words, CW_NO_INTEGER);
  cw_sound_run_prepare(run, &job, PRACTICE_RATE_HZ);
  job.inputs = recorder->setting.leads;
  job.record_frames = (gsize)(seconds * job.rate_hz);
  cw_sound_run_play(run, &job, NULL);
}

static void recorder_finalize(GObject *object)
{
  CwSurveyRecorder *recorder = CW_SURVEY_RECORDER(object);
  g_object_unref(recorder->index);
  g_object_unref(recorder->volts_take);
  g_clear_pointer(&recorder->tone, cw_recording_free);
  g_clear_pointer(&recorder->heard, cw_survey_heard_unref);
  g_ptr_array_unref(recorder->faults);
  g_free(recorder->counts);
  g_free(recorder->heard_leads);
  G_OBJECT_CLASS(cw_survey_recorder_parent_class)->finalize(object);
}

static void cw_survey_recorder_class_init(CwSurveyRecorderClass *klass)
{
  CwSoundRunClass *run_class = CW_SOUND_RUN_CLASS(klass);
  G_OBJECT_CLASS(klass)->finalize = recorder_finalize;
  run_class->next = next;
  run_class->heard = heard;
  run_class->tell = tell;
}

static void cw_survey_recorder_init(CwSurveyRecorder *recorder)
{
  recorder->index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  recorder->volts_take = cw_job_volts_take(CW_TRACKS_RATE_HZ);
  recorder->faults = g_ptr_array_new_with_free_func(g_free);
  g_ptr_array_set_size(recorder->faults, (int)tone_number(recorder) + 1);
  recorder->counts = g_new0(guint, recorder->faults->len);
  recorder->heard_leads = g_new0(guint64, recorder->faults->len);
}

CwSurveyRecorder *cw_survey_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  return cw_sound_run_construct(CW_TYPE_SURVEY_RECORDER, session, desk);
}

void cw_survey_recorder_start(CwSurveyRecorder *recorder, guint take, const CwSurveySetting *setting)
{
  if (cw_sound_run_is_running(CW_SOUND_RUN(recorder)))
    return;
  recorder->take = take;
  recorder->whole = *setting;
  recorder->whole.seat_setting = g_intern_string(setting->seat_setting);
  recorder->setting = recorder->whole;
  if (setting->in_pairs && setting->leads > 2) {
    if (is_complete(recorder, take)) /* all of it once more */
      recorder->heard_leads[take] = 0;
    recorder->setting.lead[1] = cw_survey_recorder_get_second(recorder, take, setting);
    recorder->setting.leads = 2;
  }
  cw_sound_run_start(CW_SOUND_RUN(recorder), NULL, CW_RECORD_AS_IT_SOUNDS);
}

void cw_survey_recorder_start_tone(CwSurveyRecorder *recorder, const CwSurveySetting *setting, guint channel)
{
  if (cw_sound_run_is_running(CW_SOUND_RUN(recorder)))
    return;
  recorder->take = tone_number(recorder);
  recorder->tone_channel = channel;
  recorder->tone_lead = setting->lead[channel];
  recorder->counts[recorder->take] = 0;
  set_fault(recorder, recorder->take, NULL);
  recorder->setting = *setting;
  recorder->setting.seat_setting = g_intern_string(setting->seat_setting);
  g_clear_pointer(&recorder->tone, cw_recording_free);
  cw_sound_run_start(CW_SOUND_RUN(recorder), NULL, CW_RECORD_AS_IT_SOUNDS);
}
