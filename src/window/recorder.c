/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/recorder.h"

#include "job/feeds.h"
#include "job/practice.h"
#include "window/practice.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>

struct _CwRecorder {
  CwSoundRun parent_instance;
  int timing;
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
  return cw_job_analyse_take(vehicle, wanted->what, wanted->position, recorder->timing, 0,
                             recording ? recording : computed, error);
}

static void tell_refused(CwSession *session, CwRecord *take)
{
  const char *const *reasons = cw_record_get_texts(take, "reasons");
  g_autofree char *name =
      cw_say_output(cw_session_get_vehicle(session), cw_record_get_integer(take, "output"));
  cw_session_tell(session, CW_TOLD_ATTEND, _("The take of %s at %s was refused: %s."), name,
                  cw_record_get_text(take, "position"),
                  reasons && reasons[0] ? reasons[0] : _("no reason is known"));
}

static gboolean keep(CwSoundRun *run, CwProject *project, gpointer outcome)
{
  CwSession *session = cw_sound_run_get_session(run);
  CwRecord *take = cw_job_store_take(project, outcome);
  gboolean accepted = cw_record_get_boolean(take, "accepted");
  g_autofree char *name =
      cw_say_output(cw_project_get_vehicle(project), cw_record_get_integer(take, "output"));
  g_autofree char *what = g_strdup_printf(_("Take of %s at %s"), name, cw_record_get_text(take, "position"));
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
  cw_sound_run_lead(run, &job, wanted->what);
  if (marker)
    cw_sound_run_lead(run, &job, marker);
  g_autoptr(CwRecording) rendered = cw_job_render_feed(feed, job.rate_hz);
  cw_sound_run_play(run, &job, rendered);
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
  gint64 marker = recorder->timing == CW_TIMING_MARKER ? cw_job_choose_marker(vehicle, wanted->what) : 0;
  if (!cw_job_plan_feed(vehicle, wanted->what, marker,
                        cw_sound_desk_get_level_dbfs(cw_sound_run_get_desk(run)), &error) ||
      !cw_job_read_feed(vehicle, wanted->what, marker != 0, &feed, &rate_hz, &error)) {
    cw_sound_run_fail(run, error);
    return;
  }
  g_autofree char *name = cw_say_output(vehicle, wanted->what);
  cw_sound_run_say_wanted(run, name, wanted->what);
  if (cw_sound_run_get_way(run) == CW_RECORD_COMPUTED)
    cw_sound_run_look(run, NULL);
  else
    play(recorder, wanted, &feed, rate_hz);
}

static void cw_recorder_class_init(CwRecorderClass *klass)
{
  CwSoundRunClass *run_class = CW_SOUND_RUN_CLASS(klass);
  run_class->next = next;
  run_class->analyse = analyse;
  run_class->free_outcome = (GDestroyNotify)cw_take_outcome_free;
  run_class->keep = keep;
  run_class->tell = tell;
}

static void cw_recorder_init(CwRecorder *recorder)
{
}

CwRecorder *cw_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  return cw_sound_run_construct(CW_TYPE_RECORDER, session, desk);
}

/* Begins with the takes wanted (outputs at positions), which it takes over; timing as in
 * cw_job_analyse_take(). Does nothing while it runs. Ends at the first that is refused, stopped or fails. */
void cw_recorder_start(CwRecorder *recorder, GPtrArray *wanted, int timing, CwRecordingWay way)
{
  if (!cw_sound_run_is_running(CW_SOUND_RUN(recorder)))
    recorder->timing = timing;
  cw_sound_run_start(CW_SOUND_RUN(recorder), wanted, way);
}
