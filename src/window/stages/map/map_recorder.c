/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/map/map_recorder.h"

#include "job/map/checked_by_hand.h"
#include "job/takes/feeds.h"
#include "window/state/practice_vehicle.h"
#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

struct _CwMapRecorder {
  CwSoundRun parent_instance;
  CwProvingPlace place;
  gint64 output; /* that is on */
};

G_DEFINE_FINAL_TYPE(CwMapRecorder, cw_map_recorder, CW_TYPE_SOUND_RUN)

gboolean cw_map_was_heard(CwRecord *vehicle, CwProvingPlace place)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *proof = cw_job_find_map_proof(vehicle, cw_speaker_get_output(cw_list_get(speakers, i)));
    if (!proof || (isnan(place == CW_PROVING_LEFT ? cw_map_proof_get_arrival_left_ms(proof)
                                                  : cw_map_proof_get_arrival_right_ms(proof)) &&
                   cw_map_proof_get_sounded(proof) != CW_SOUNDED_SILENT))
      return FALSE;
  }
  return cw_list_get_length(speakers) > 0;
}

/* After the last output: with both places heard the map is judged. */
static void conclude(CwSession *session)
{
  CwProject *project = cw_session_get_project(session);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(GError) error = NULL;
  if (!cw_map_was_heard(vehicle, CW_PROVING_LEFT) || !cw_map_was_heard(vehicle, CW_PROVING_RIGHT))
    cw_session_tell(session, CW_TOLD_DONE,
                    _("Heard. Now put the microphone at the other side of the head and listen again."));
  else if (!cw_job_prove_judge(project, cw_session_get_seat(session), &error))
    cw_session_tell(session, CW_TOLD_FAILED, _("Heard, but not judged: %s."), error->message);
  else if (cw_session_commit(session, _("Prove the channel map")))
    cw_session_tell(session, CW_TOLD_DONE, _("The channel map was judged. Look at the findings."));
}

static void tell(CwSoundRun *run, const char *fault)
{
  CwSession *session = cw_sound_run_get_session(run);
  if (fault)
    cw_session_tell(session, CW_TOLD_FAILED,
                    _("Not heard: %s. What was heard before this is kept; mend it and listen again."), fault);
  else
    cw_session_tell(session, CW_TOLD_DONE, _("Stopped. What was heard before this is kept."));
}

static gpointer analyse(CwSoundRun *run, CwRecord *vehicle, CwRecording *recording, GError **error)
{
  CwMapRecorder *recorder = CW_MAP_RECORDER(run);
  return cw_job_prove_hear(vehicle, recorder->output, recorder->place, recording, error);
}

static gboolean keep(CwSoundRun *run, CwProject *project, gpointer outcome)
{
  g_autofree char *name =
      cw_say_output(cw_project_get_vehicle(project), ((CwProvingOutcome *)outcome)->output);
  g_autofree char *what = g_strdup_printf(_("Hear %s"), name);
  cw_job_prove_store(project, outcome);
  return cw_session_commit(cw_sound_run_get_session(run), what);
}

/* The bay's places beside the head are its second and third position. */
static void set_up_practice(CwMapRecorder *recorder)
{
  CwSession *session = cw_sound_run_get_session(CW_SOUND_RUN(recorder));
  CwSoundClient *client = cw_sound_desk_get_client(cw_sound_run_get_desk(CW_SOUND_RUN(recorder)));
  g_autofree char *position =
      g_strdup_printf("%s/%d", cw_session_get_seat(session), recorder->place == CW_PROVING_LEFT ? 2 : 3);
  g_autofree char *setup = cw_practice_setup(cw_session_get_vehicle(session), position,
                                             (guint)(7000 + 10 * recorder->output), NULL);
  cw_sound_client_set_practice(client, setup);
}

static void hear(CwMapRecorder *recorder, CwRecord *speaker)
{
  CwSoundRun *run = CW_SOUND_RUN(recorder);
  CwRecord *vehicle = cw_session_get_vehicle(cw_sound_run_get_session(run));
  g_autoptr(GError) error = NULL;
  CwSweepFeed feed;
  CwSoundJob job;
  double rate_hz;
  recorder->output = cw_speaker_get_output(speaker);
  if (!cw_job_proving_feed(vehicle, recorder->output, &feed, &rate_hz, &error)) {
    cw_sound_run_fail(run, error);
    return;
  }
  g_autofree char *name = cw_say_speaker(speaker);
  g_autofree char *words = g_strdup_printf(
      recorder->place == CW_PROVING_LEFT ? _("%s, heard left of the head") : _("%s, heard right of the head"),
      name);
  cw_sound_run_say(run, words, recorder->output);
  if (cw_sound_desk_is_practice(cw_sound_run_get_desk(run)))
    set_up_practice(recorder);
  cw_sound_run_prepare(run, &job, rate_hz);
  job.heard = TRUE;
  cw_sound_run_lead(run, &job, recorder->output);
  g_autoptr(CwRecording) rendered = cw_job_render_feed(&feed, job.rate_hz);
  cw_sound_run_play(run, &job, rendered);
}

static void next(CwSoundRun *run)
{
  CwSession *session = cw_sound_run_get_session(run);
  CwList *speakers = cw_vehicle_get_speakers(cw_session_get_vehicle(session));
  if (cw_sound_run_get_number(run) < cw_list_get_length(speakers)) {
    hear(CW_MAP_RECORDER(run), cw_list_get(speakers, cw_sound_run_get_number(run)));
  } else {
    cw_sound_run_end(run);
    conclude(session);
  }
}

static void cw_map_recorder_class_init(CwMapRecorderClass *klass)
{
  CwSoundRunClass *run_class = CW_SOUND_RUN_CLASS(klass);
  run_class->next = next;
  run_class->analyse = analyse;
  run_class->free_outcome = (GDestroyNotify)cw_proving_outcome_free;
  run_class->keep = keep;
  run_class->tell = tell;
}

static void cw_map_recorder_init(CwMapRecorder *recorder)
{
}

CwMapRecorder *cw_map_recorder_new(CwSession *session, CwSoundDesk *desk)
{
  return cw_sound_run_construct(CW_TYPE_MAP_RECORDER, session, desk);
}

void cw_map_recorder_start(CwMapRecorder *recorder, CwProvingPlace place)
{
  if (!cw_sound_run_is_running(CW_SOUND_RUN(recorder)))
    recorder->place = place;
  cw_sound_run_start(CW_SOUND_RUN(recorder), NULL, CW_RECORD_AS_IT_SOUNDS);
}
