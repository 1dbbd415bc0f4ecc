/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/measuring/take_recorder.h"

#include "job/practice/practice.h"
#include "job/takes/feeds.h"
#include "window/state/practice_vehicle.h"
#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define RAISE_MOST_DB 6.0 /* from one take to the next without a hand on the level */

struct _CwRecorder {
  CwSoundRun parent_instance;
  CwTakeTiming timing;
  double level_dbfs;  /* of the desk, as last seen; NAN before */
  GHashTable *heeded; /* outputs recorded since the level was turned; NULL: it never was */
};

G_DEFINE_FINAL_TYPE(CwRecorder, cw_recorder, CW_TYPE_SOUND_RUN)

/* A feed that was planned for a take that did not come is taken back. */
static void tell(CwSoundRun *run, const char *fault)
{
  CwSession *session = cw_sound_run_get_session(run);
  CwProject *project = cw_session_get_project(session);
  cw_record_assign(cw_project_get_vehicle(project), cw_history_get_present(cw_project_get_history(project)));
  if (fault)
    cw_session_tell(session, CW_TOLD_FAILED,
                    _("No take: %s. The takes before this one are kept; mend it and record again."), fault);
  else
    cw_session_tell(session, CW_TOLD_DONE, _("Stopped. The takes before this one are kept."));
}

/* How the practice bay stands for a take: which car, and where the microphone is. */
static char *practice_setup(CwRecord *vehicle, const CwWanted *wanted)
{
  guint seed = g_str_hash(wanted->position) ^ (guint)wanted->what;
  return cw_practice_setup(vehicle, wanted->position, seed % 100000, NULL);
}

static CwRecording *compute(CwRecord *vehicle, const CwWanted *wanted, GError **error)
{
  g_autofree char *text = practice_setup(vehicle, wanted);
  CwPracticeSetup *setup = cw_practice_setup_parse(text, error);
  g_autoptr(CwPracticeBay) bay = setup ? cw_practice_bay_new(setup) : NULL;
  guint64 seed = g_str_hash(wanted->position) ^ (guint)wanted->what;
  return bay ? cw_job_practice_record(bay, vehicle, wanted->what, wanted->position, seed, error) : NULL;
}

static gpointer analyse(CwSoundRun *run, CwRecord *vehicle, CwRecording *recording, GError **error)
{
  CwRecorder *recorder = CW_RECORDER(run);
  const CwWanted *wanted = cw_sound_run_get_wanted(run);
  g_autoptr(CwRecording) computed = recording ? NULL : compute(vehicle, wanted, error);
  if (!recording && !computed)
    return NULL;
  return cw_job_analyse_take(vehicle, wanted->what, wanted->position, recorder->timing, CW_PURPOSE_TUNING,
                             recording ? recording : computed, error);
}

static void tell_refused(CwSession *session, CwRecord *take)
{
  const char *const *reasons = cw_take_get_reasons(take);
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(session), cw_take_get_output(take));
  cw_session_tell(session, CW_TOLD_ATTEND, _("The take of %s at %s was refused: %s."), name,
                  cw_take_get_position(take), reasons && reasons[0] ? reasons[0] : _("no reason is known"));
}

static gboolean keep(CwSoundRun *run, CwProject *project, gpointer outcome)
{
  CwSession *session = cw_sound_run_get_session(run);
  CwRecord *take = cw_job_store_take(project, outcome);
  gboolean accepted = cw_take_get_accepted(take);
  g_autofree char *name = cw_say_output(cw_project_get_vehicle(project), cw_take_get_output(take));
  g_autofree char *what = g_strdup_printf(_("Take of %s at %s"), name, cw_take_get_position(take));
  if (!accepted)
    tell_refused(session, take);
  return cw_session_commit(session, what) && accepted;
}

static void play(CwRecorder *recorder, const CwWanted *wanted, const CwSweepFeed *feed, double rate_hz)
{
  CwSoundRun *run = CW_SOUND_RUN(recorder);
  CwSoundDesk *desk = cw_sound_run_get_desk(run);
  CwRecord *vehicle = cw_session_get_vehicle(cw_sound_run_get_session(run));
  gint64 marker = feed->has_marker ? cw_job_choose_marker(vehicle, wanted->what) : 0;
  CwSoundJob job;
  if (cw_sound_desk_is_practice(desk)) {
    g_autofree char *setup = practice_setup(vehicle, wanted);
    cw_sound_client_set_practice(cw_sound_desk_get_client(desk), setup);
  }
  cw_sound_run_prepare(run, &job, rate_hz);
  job.heard = TRUE;
  cw_sound_run_lead(run, &job, wanted->what);
  if (marker)
    cw_sound_run_lead(run, &job, marker);
  g_autoptr(CwRecording) rendered = cw_job_render_feed(feed, job.rate_hz);
  cw_sound_run_play(run, &job, rendered);
}

static gboolean has_take(CwRecord *vehicle, gint64 output)
{
  return cw_list_find_integer_at(cw_vehicle_get_takes(vehicle), CW_TAKE_FIELD_OUTPUT, output) != NULL;
}

/* Whether the last take of an output decides its next level: until the person turns the level, whose wish
 * goes first. */
static gboolean follows_last_take(CwRecorder *recorder, gint64 output)
{
  double level_dbfs = cw_sound_desk_get_level_dbfs(cw_sound_run_get_desk(CW_SOUND_RUN(recorder)));
  if (!isnan(recorder->level_dbfs) && level_dbfs != recorder->level_dbfs) {
    g_clear_pointer(&recorder->heeded, g_hash_table_unref);
    recorder->heeded = g_hash_table_new(NULL, NULL);
  }
  recorder->level_dbfs = level_dbfs;
  return !recorder->heeded || g_hash_table_contains(recorder->heeded, GINT_TO_POINTER((int)output));
}

/* Settles the feed of an output's next take: by its last take, or as the desk's level says. Says what was
 * settled; NULL with error. */
static char *plan_feed(CwRecorder *recorder, CwRecord *vehicle, gint64 output, CwTakeTiming timing,
                       GError **error)
{
  double level_dbfs = cw_sound_desk_get_level_dbfs(cw_sound_run_get_desk(CW_SOUND_RUN(recorder)));
  gint64 marker = timing == CW_TIMING_MARKER ? cw_job_choose_marker(vehicle, output) : 0;
  CwRecord *feed = cw_list_find_integer_at(cw_vehicle_get_feeds(vehicle), CW_FEED_FIELD_OUTPUT, output);
  gint64 noted = feed ? cw_feed_get_marker_output(feed) : CW_NO_INTEGER;
  if (follows_last_take(recorder, output) && feed && (noted == CW_NO_INTEGER ? 0 : noted) == marker &&
      has_take(vehicle, output))
    return cw_job_plan_next_feed(
        vehicle, output, fmin(CW_DESK_LIMIT_DBFS, cw_feed_get_level_dbfs(feed) + RAISE_MOST_DB), error);
  if (!cw_job_plan_feed(vehicle, output, marker, level_dbfs, error))
    return NULL;
  return g_strdup_printf(_("%.0f dBFS, as set below"), level_dbfs);
}

char *cw_recorder_say_feed(CwRecorder *recorder, gint64 output, CwTakeTiming timing)
{
  CwRecord *vehicle = cw_session_get_vehicle(cw_sound_run_get_session(CW_SOUND_RUN(recorder)));
  g_autoptr(CwRecord) trial = vehicle ? cw_record_copy(vehicle) : NULL;
  return trial ? plan_feed(recorder, trial, output, timing, NULL) : NULL;
}

static void next(CwSoundRun *run)
{
  CwRecorder *recorder = CW_RECORDER(run);
  const CwWanted *wanted = cw_sound_run_get_wanted(run);
  CwRecord *vehicle = cw_session_get_vehicle(cw_sound_run_get_session(run));
  g_autoptr(GError) error = NULL;
  CwSweepFeed feed;
  double rate_hz;
  if (!wanted) {
    cw_sound_run_end(run);
    return;
  }
  g_autofree char *settled = plan_feed(recorder, vehicle, wanted->what, recorder->timing, &error);
  if (!settled || !cw_job_read_feed(vehicle, wanted->what, FALSE, &feed, &rate_hz, &error)) {
    cw_sound_run_fail(run, error);
    return;
  }
  if (recorder->heeded)
    g_hash_table_add(recorder->heeded, GINT_TO_POINTER((int)wanted->what));
  g_autofree char *name = cw_say_output(vehicle, wanted->what);
  cw_sound_run_say_wanted(run, name, wanted->what);
  if (cw_sound_run_get_way(run) == CW_RECORD_COMPUTED)
    cw_sound_run_look(run, NULL);
  else
    play(recorder, wanted, &feed, rate_hz);
}

static void recorder_finalize(GObject *object)
{
  g_clear_pointer(&CW_RECORDER(object)->heeded, g_hash_table_unref);
  G_OBJECT_CLASS(cw_recorder_parent_class)->finalize(object);
}

static void cw_recorder_class_init(CwRecorderClass *klass)
{
  CwSoundRunClass *run_class = CW_SOUND_RUN_CLASS(klass);
  G_OBJECT_CLASS(klass)->finalize = recorder_finalize;
  run_class->next = next;
  run_class->analyse = analyse;
  run_class->free_outcome = (GDestroyNotify)cw_take_outcome_free;
  run_class->keep = keep;
  run_class->tell = tell;
}

static void cw_recorder_init(CwRecorder *recorder)
{
  recorder->level_dbfs = NAN;
}

CwRecorder *cw_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  return cw_sound_run_construct(CW_TYPE_RECORDER, session, desk);
}

void cw_recorder_start(CwRecorder *recorder, GPtrArray *wanted, CwTakeTiming timing, CwRecordingWay way)
{
  if (!cw_sound_run_is_running(CW_SOUND_RUN(recorder)))
    recorder->timing = timing;
  cw_sound_run_start(CW_SOUND_RUN(recorder), wanted, way);
}
