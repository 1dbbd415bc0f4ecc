/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/proof/proof_recorder.h"

#include "handover/table.h"
#include "job/practice/practice.h"
#include "job/takes/feeds.h"
#include "window/state/practice_vehicle.h"

#include <glib/gi18n-lib.h>

struct _CwProofRecorder {
  CwSoundRun parent_instance;
  guint kept; /* since the start */
};

G_DEFINE_FINAL_TYPE(CwProofRecorder, cw_proof_recorder, CW_TYPE_SOUND_RUN)

static const char *say_side(CwSum side)
{
  const char *const words[CW_SUMS] = {_("left input"), _("right input"), _("both inputs")};
  return words[side];
}

/* Judges what was measured, if anything was. */
static void ended(CwSoundRun *run)
{
  CwProofRecorder *recorder = CW_PROOF_RECORDER(run);
  CwSession *session = cw_sound_run_get_session(run);
  CwProject *project = cw_session_get_project(session);
  g_autoptr(GError) error = NULL;
  if (recorder->kept && project && cw_job_judge_proof(project, &error))
    cw_session_commit(session, _("Measure with the settings loaded"));
  else if (error)
    cw_session_tell(session, CW_TOLD_FAILED, _("Measured, but not compared: %s."), error->message);
  recorder->kept = 0;
}

static void tell(CwSoundRun *run, const char *fault)
{
  CwSession *session = cw_sound_run_get_session(run);
  if (fault)
    cw_session_tell(session, CW_TOLD_FAILED,
                    _("Not measured: %s. What was measured before this is kept; mend it and go on."), fault);
  else
    cw_session_tell(session, CW_TOLD_DONE, _("Stopped. What was measured before this is kept."));
}

static guint seed_of(const CwWanted *wanted)
{
  return (g_str_hash(wanted->position) ^ (guint)wanted->what) % 100000;
}

static gpointer analyse(CwSoundRun *run, CwRecord *vehicle, CwRecording *recording, GError **error)
{
  const CwWanted *wanted = cw_sound_run_get_wanted(run);
  g_autoptr(CwPracticeBay) bay = recording ? NULL : cw_job_practice_tuned_bay(vehicle, error);
  g_autoptr(CwRecording) computed =
      bay ? cw_job_practice_record_side(bay, vehicle, (CwSum)wanted->what, wanted->position, seed_of(wanted),
                                        error)
          : NULL;
  if (!recording && !computed)
    return NULL;
  return cw_job_proof_analyse(vehicle, (CwSum)wanted->what, wanted->position,
                              recording ? recording : computed, error);
}

static gboolean keep(CwSoundRun *run, CwProject *project, gpointer outcome)
{
  CwProofTake *take = outcome;
  if (take->faults) {
    cw_session_tell(cw_sound_run_get_session(run), CW_TOLD_ATTEND,
                    _("The measurement at %s was refused: %s."), cw_sound_run_get_wanted(run)->position,
                    take->reasons[0] ? take->reasons[0] : _("no reason is known"));
    return FALSE;
  }
  cw_job_proof_store(project, take);
  CW_PROOF_RECORDER(run)->kept++;
  return TRUE;
}

/* The bay's first route of the processor's inputs; -1 with error where there is none. The bay has the
 * settings in its processor then. */
static int set_up_practice(CwSoundRun *run, const CwWanted *wanted, GError **error)
{
  CwRecord *vehicle = cw_session_get_vehicle(cw_sound_run_get_session(run));
  g_autoptr(CwPracticeBay) bay = cw_job_practice_tuned_bay(vehicle, error);
  g_autoptr(CwTable) table = bay ? cw_table_new(vehicle, 0, error) : NULL;
  g_autofree char *text = table ? cw_table_write(table, "json", FALSE, NULL, error) : NULL;
  if (!text)
    return -1;
  g_autofree char *setup = cw_practice_setup(vehicle, wanted->position, seed_of(wanted), text);
  cw_sound_client_set_practice(cw_sound_desk_get_client(cw_sound_run_get_desk(run)), setup);
  return (int)cw_practice_bay_get_outputs(bay) - 2;
}

static void play(CwSoundRun *run, const CwWanted *wanted, int left)
{
  double rate_hz;
  CwSweepFeed feed = cw_job_proof_feed(cw_session_get_vehicle(cw_sound_run_get_session(run)), &rate_hz);
  CwSoundJob job;
  cw_sound_run_prepare(run, &job, rate_hz);
  job.heard = TRUE;
  job.route.count = wanted->what == CW_SUM_BOTH ? 2 : 1;
  job.route.value[0] = (guint32)(wanted->what == CW_SUM_RIGHT ? left + 1 : left);
  job.route.value[1] = (guint32)(left + 1);
  job.gain_db = MIN(cw_sound_desk_get_level_dbfs(cw_sound_run_get_desk(run)) - CW_FEED_LEVEL_DBFS, 0);
  g_autoptr(CwRecording) rendered = cw_job_render_feed(&feed, job.rate_hz);
  cw_sound_run_play(run, &job, rendered);
}

static void next(CwSoundRun *run)
{
  const CwWanted *wanted = cw_sound_run_get_wanted(run);
  g_autoptr(GError) error = NULL;
  if (!wanted) {
    cw_sound_run_end(run);
    return;
  }
  cw_sound_run_say_wanted(run, say_side((CwSum)wanted->what), CW_NO_INTEGER);
  if (cw_sound_run_get_way(run) == CW_RECORD_COMPUTED) {
    cw_sound_run_look(run, NULL);
    return;
  }
  int left = cw_sound_desk_is_practice(cw_sound_run_get_desk(run)) ? set_up_practice(run, wanted, &error) : 0;
  if (left < 0)
    cw_sound_run_fail(run, error);
  else
    play(run, wanted, left);
}

static void cw_proof_recorder_class_init(CwProofRecorderClass *klass)
{
  CwSoundRunClass *run_class = CW_SOUND_RUN_CLASS(klass);
  run_class->next = next;
  run_class->analyse = analyse;
  run_class->free_outcome = (GDestroyNotify)cw_proof_take_free;
  run_class->keep = keep;
  run_class->tell = tell;
  run_class->ended = ended;
}

static void cw_proof_recorder_init(CwProofRecorder *recorder)
{
}

CwProofRecorder *cw_proof_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  return cw_sound_run_construct(CW_TYPE_PROOF_RECORDER, session, desk);
}
