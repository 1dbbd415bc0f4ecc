/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/recorder.h"

#include "handover/table.h"
#include "job/feeds.h"
#include "job/practice.h"
#include "window/practice.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>
#include <string.h>

#define ROOM_AFTER_S 0.35 /* for the latency of the way out and back, and the cabin's decay */
#define PROTECT_PART 0.25 /* two octaves below what the speaker bears, where a measurement does not notice it */

struct _CwRecorder {
  GObject parent_instance;
  CwSession *session;
  CwSoundDesk *desk;
  GPtrArray *wanted;
  guint next; /* of the wanted, the one that is on */
  int timing, purpose;
  CwRecordingWay way;
  GCancellable *cancellable; /* not NULL while running */
  char *words;
  float *feed; /* must stay while it is played */
};

G_DEFINE_FINAL_TYPE(CwRecorder, cw_recorder, G_TYPE_OBJECT)

static guint changed;

static void record_next(CwRecorder *recorder);

static void recorder_dispose(GObject *object)
{
  CwRecorder *recorder = CW_RECORDER(object);
  if (recorder->cancellable)
    g_cancellable_cancel(recorder->cancellable);
  g_clear_object(&recorder->cancellable);
  g_clear_object(&recorder->session);
  g_clear_object(&recorder->desk);
  g_clear_pointer(&recorder->wanted, g_ptr_array_unref);
  g_clear_pointer(&recorder->words, g_free);
  g_clear_pointer(&recorder->feed, g_free);
  G_OBJECT_CLASS(cw_recorder_parent_class)->dispose(object);
}

static void cw_recorder_class_init(CwRecorderClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = recorder_dispose;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

static void cw_recorder_init(CwRecorder *recorder)
{
}

CwRecorder *cw_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  CwRecorder *recorder = g_object_new(CW_TYPE_RECORDER, NULL);
  recorder->session = g_object_ref(session);
  recorder->desk = g_object_ref(desk);
  g_signal_connect_object(desk, "stop-asked", G_CALLBACK(cw_recorder_stop), recorder, G_CONNECT_SWAPPED);
  return recorder;
}

static void wanted_free(gpointer data)
{
  g_free(((CwWantedTake *)data)->position);
  g_free(data);
}

GPtrArray *cw_wanted_takes_new(void)
{
  return g_ptr_array_new_with_free_func(wanted_free);
}

void cw_wanted_takes_add(GPtrArray *wanted, gint64 output, const char *position)
{
  CwWantedTake *take = g_new0(CwWantedTake, 1);
  *take = (CwWantedTake){output, g_strdup(position)};
  g_ptr_array_add(wanted, take);
}

gboolean cw_recorder_is_running(CwRecorder *recorder)
{
  return recorder->cancellable != NULL;
}

/* What it does, in words; NULL while it does nothing. */
const char *cw_recorder_get_words(CwRecorder *recorder)
{
  return recorder->words;
}

/* The take that is on; NULL while none is. */
const CwWantedTake *cw_recorder_get_current(CwRecorder *recorder)
{
  return recorder->cancellable && recorder->next < recorder->wanted->len ? g_ptr_array_index(recorder->wanted, recorder->next) : NULL;
}

static void set_words(CwRecorder *recorder, char *words, gint64 playing)
{
  g_free(recorder->words);
  recorder->words = words;
  cw_sound_desk_set_playing(recorder->desk, playing == CW_NO_INTEGER ? NULL : words);
  cw_session_set_playing(recorder->session, playing);
  g_signal_emit(recorder, changed, 0);
}

static void end(CwRecorder *recorder)
{
  g_clear_object(&recorder->cancellable);
  g_clear_pointer(&recorder->feed, g_free);
  set_words(recorder, NULL, CW_NO_INTEGER);
}

/* Ends for a reason that the person must know. A feed that was planned for a take that did not come is taken back. */
static void end_with(CwRecorder *recorder, const GError *error)
{
  CwProject *project = cw_session_get_project(recorder->session);
  gboolean stopped = g_error_matches(error, CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED) || g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
  if (project)
    cw_record_assign(cw_project_get_vehicle(project), cw_history_get_present(cw_project_get_history(project)));
  if (stopped)
    cw_session_tell(recorder->session, CW_TOLD_DONE, _("Stopped. The takes before this one are kept."));
  else
    cw_session_tell(recorder->session, CW_TOLD_FAILED, _("No take: %s. The takes before this one are kept; mend it and record again."),
                    error->message);
  end(recorder);
}

/* How the practice bay stands for a take: which car, where the microphone is, and, for a proof, the tune in its processor. */
static char *practice_setup(CwRecorder *recorder, const CwWantedTake *wanted)
{
  CwRecord *vehicle = cw_session_get_vehicle(recorder->session);
  const char *slash = strchr(wanted->position, '/');
  g_autofree char *seat = g_strndup(wanted->position, (gsize)(slash - wanted->position));
  g_autofree char *escaped = g_strescape(seat, NULL);
  g_autoptr(CwTable) table = recorder->purpose ? cw_table_new(vehicle, 0, NULL) : NULL;
  g_autofree char *text = table ? cw_table_write(table, "json", FALSE, NULL, NULL) : NULL;
  guint seed = g_str_hash(wanted->position) ^ (guint)wanted->output;
  return g_strdup_printf("{\"car\": \"%s\", \"seat\": \"%s\", \"position\": %d, \"seed\": %u%s%s}", cw_practice_car_of(vehicle), escaped,
                         (int)g_ascii_strtoll(slash + 1, NULL, 10) - 1, seed % 100000, text ? ", \"table\": " : "", text ? text : "");
}

/* --- analysis ------------------------------------------------------------------------------------------------------ */

typedef struct {
  CwRecord *vehicle; /* snapshot */
  gint64 output;
  char *position;
  int timing, purpose;
  CwRecording *recording; /* NULL: the practice bay computes it */
  char *practice;         /* its setup then */
} Analysis;

static void analysis_free(gpointer data)
{
  Analysis *analysis = data;
  g_object_unref(analysis->vehicle);
  g_free(analysis->position);
  g_free(analysis->practice);
  g_clear_pointer(&analysis->recording, cw_recording_free);
  g_free(analysis);
}

static void analyse(GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Analysis *analysis = data;
  GError *error = NULL;
  CwTakeOutcome *outcome = NULL;
  if (!analysis->recording) {
    CwPracticeSetup *setup = cw_practice_setup_parse(analysis->practice, &error);
    g_autoptr(CwPracticeBay) bay = setup ? cw_practice_bay_new(setup) : NULL;
    guint64 seed = g_str_hash(analysis->position) ^ (guint)analysis->output;
    if (bay)
      analysis->recording = cw_job_practice_record(bay, analysis->vehicle, analysis->output, analysis->position, seed, &error);
  }
  if (analysis->recording)
    outcome = cw_job_analyse_take(analysis->vehicle, analysis->output, analysis->position, analysis->timing, analysis->purpose,
                                  analysis->recording, &error);
  if (outcome)
    g_task_return_pointer(task, outcome, (GDestroyNotify)cw_take_outcome_free);
  else
    g_task_return_error(task, error);
}

static void tell_refused(CwRecorder *recorder, CwRecord *take)
{
  const char *const *reasons = cw_record_get_texts(take, "reasons");
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(recorder->session), cw_record_get_integer(take, "output"));
  cw_session_tell(recorder->session, CW_TOLD_ATTEND, _("The take of %s at %s was refused: %s."), name, cw_record_get_text(take, "position"),
                  reasons && reasons[0] ? reasons[0] : _("no reason is known"));
}

static void on_analysed(GObject *source, GAsyncResult *result, gpointer data)
{
  CwRecorder *recorder = CW_RECORDER(source);
  g_autoptr(GError) error = NULL;
  g_autoptr(CwTakeOutcome) outcome = g_task_propagate_pointer(G_TASK(result), &error);
  CwProject *project = recorder->session ? cw_session_get_project(recorder->session) : NULL;
  if (!recorder->cancellable || !project)
    return;
  if (!outcome) {
    end_with(recorder, error);
    return;
  }
  CwRecord *take = cw_job_store_take(project, outcome);
  gboolean accepted = cw_record_get_boolean(take, "accepted");
  g_autofree char *name = cw_say_output(cw_project_get_vehicle(project), cw_record_get_integer(take, "output"));
  g_autofree char *what = g_strdup_printf(_("Take of %s at %s"), name, cw_record_get_text(take, "position"));
  if (!accepted)
    tell_refused(recorder, take);
  if (!cw_session_commit(recorder->session, what) || !accepted || g_cancellable_is_cancelled(recorder->cancellable)) {
    end(recorder);
    return;
  }
  recorder->next++;
  record_next(recorder);
}

static void begin_analysis(CwRecorder *recorder, CwRecording *recording)
{
  const CwWantedTake *wanted = cw_recorder_get_current(recorder);
  Analysis *analysis = g_new0(Analysis, 1);
  *analysis = (Analysis){cw_record_snapshot(cw_session_get_vehicle(recorder->session)), wanted->output, g_strdup(wanted->position),
                         recorder->timing, recorder->purpose, recording,
                         recording ? NULL : practice_setup(recorder, wanted)};
  g_autoptr(GTask) task = g_task_new(recorder, recorder->cancellable, on_analysed, NULL);
  g_task_set_task_data(task, analysis, analysis_free);
  g_task_run_in_thread(task, analyse);
}

/* --- playing ------------------------------------------------------------------------------------------------------- */

static void on_played(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(CwRecorder) recorder = data;
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
  set_words(recorder, g_strdup(_("Looking at the take")), CW_NO_INTEGER);
  begin_analysis(recorder, cw_recording_from_floats(take->rate_hz, take->channels, take->frames, take->sample));
}

/* The practice bay is told where its microphone stands. */
static void set_up_practice(CwRecorder *recorder, const CwWantedTake *wanted)
{
  g_autofree char *setup = practice_setup(recorder, wanted);
  cw_sound_client_set_practice(cw_sound_desk_get_client(recorder->desk), setup);
}

static void interleave(CwRecorder *recorder, const CwRecording *feed)
{
  g_free(recorder->feed);
  recorder->feed = g_new(float, feed->frames * feed->channels);
  for (gsize i = 0; i < feed->frames; i++)
    for (guint c = 0; c < feed->channels; c++)
      recorder->feed[i * feed->channels + c] = (float)feed->channel[c][i];
}

/* The device's output for a processor's output: its own where there are so many, else the first, which the person then leads
 * to the one output. */
static guint32 route_of(const CwSoundDevice *device, gint64 output)
{
  return !device || output <= device->outputs ? (guint32)(output - 1) : 0;
}

static void play(CwRecorder *recorder, const CwWantedTake *wanted, const CwSweepFeed *feed, double rate_hz)
{
  CwRecord *vehicle = cw_session_get_vehicle(recorder->session);
  const CwSoundDevice *device = cw_sound_desk_find_device(recorder->desk);
  gint64 marker = feed->has_marker ? cw_job_choose_marker(vehicle, wanted->output) : 0;
  double played_hz = cw_sound_desk_is_practice(recorder->desk) || !device ? rate_hz : device->rate_hz;
  g_autoptr(CwRecording) rendered = cw_job_render_feed(feed, played_hz);
  CwSoundJob job;
  interleave(recorder, rendered);
  cw_sound_job_init(&job);
  job.device = cw_sound_desk_get_device(recorder->desk);
  job.rate_hz = played_hz;
  job.feed = recorder->feed;
  job.feed_frames = rendered->frames;
  job.route.count = job.protect_hz.count = rendered->channels;
  job.route.value[0] = route_of(device, wanted->output);
  job.protect_hz.value[0] = PROTECT_PART * cw_job_lowest_hz(cw_vehicle_find_speaker(vehicle, wanted->output));
  if (marker) {
    job.route.value[1] = route_of(device, marker);
    job.protect_hz.value[1] = PROTECT_PART * cw_job_lowest_hz(cw_vehicle_find_speaker(vehicle, marker));
  }
  job.limit_dbfs = CW_DESK_LIMIT_DBFS;
  job.inputs = device ? MIN(device->inputs, 2) : 2;
  job.record_frames = rendered->frames + (gsize)(ROOM_AFTER_S * played_hz);
  cw_sound_client_play_async(cw_sound_desk_get_client(recorder->desk), &job, recorder->cancellable, on_played, g_object_ref(recorder));
}

static void record_next(CwRecorder *recorder)
{
  const CwWantedTake *wanted = cw_recorder_get_current(recorder);
  CwRecord *vehicle = cw_session_get_vehicle(recorder->session);
  g_autoptr(GError) error = NULL;
  CwSweepFeed feed;
  double rate_hz;
  if (!wanted) {
    end(recorder);
    return;
  }
  gint64 marker = recorder->timing == CW_TIMING_MARKER ? cw_job_choose_marker(vehicle, wanted->output) : 0;
  if (!cw_job_plan_feed(vehicle, wanted->output, marker, cw_sound_desk_get_level_dbfs(recorder->desk), &error) ||
      !cw_job_read_feed(vehicle, wanted->output, marker != 0, &feed, &rate_hz, &error)) {
    end_with(recorder, error);
    return;
  }
  g_autofree char *name = cw_say_output(vehicle, wanted->output);
  char *words = g_strdup_printf(_("%s at %s, %u of %u"), name, wanted->position, recorder->next + 1, recorder->wanted->len);
  set_words(recorder, words, wanted->output);
  if (recorder->way == CW_RECORD_COMPUTED) {
    begin_analysis(recorder, NULL);
    return;
  }
  if (cw_sound_desk_is_practice(recorder->desk))
    set_up_practice(recorder, wanted);
  play(recorder, wanted, &feed, rate_hz);
}

/* Begins with the takes wanted, which it takes over; timing and purpose as in cw_job_analyse_take(). Does nothing while it
 * runs. Ends at the first that is refused, stopped or fails. */
void cw_recorder_start(CwRecorder *recorder, GPtrArray *wanted, int timing, int purpose, CwRecordingWay way)
{
  if (recorder->cancellable || !cw_session_get_project(recorder->session)) {
    g_ptr_array_unref(wanted);
    return;
  }
  g_clear_pointer(&recorder->wanted, g_ptr_array_unref);
  recorder->wanted = wanted;
  recorder->next = 0;
  recorder->timing = timing;
  recorder->purpose = purpose;
  recorder->way = way;
  recorder->cancellable = g_cancellable_new();
  record_next(recorder);
}

/* Ends with the take that is on, which is not kept. */
void cw_recorder_stop(CwRecorder *recorder)
{
  if (recorder->cancellable)
    g_cancellable_cancel(recorder->cancellable);
}
