/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/map/map_check.h"
#include "job/findings/review.h"
#include "job/map/checked_by_hand.h"
#include "job/sheet/microphone.h"
#include "job/takes/feeds.h"
#include <glib/gi18n-lib.h>
#include <math.h>

gboolean cw_job_proving_feed(CwRecord *vehicle, gint64 output, CwSweepFeed *feed, double *rate_hz,
                             GError **error)
{
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, output);

  if (!speaker)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "output: the vehicle has no speaker on output %d",
                         (int)output);
  *rate_hz = cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle));
  *feed = cw_proving_feed_design(cw_job_lowest_hz(speaker), *rate_hz, CW_PROVING_LEVEL_DBFS);
  return TRUE;
}

char *cw_job_proving_blob(gint64 output, CwProvingPlace place)
{
  return g_strdup_printf("proving-%d-%s", (int)output, place == CW_PROVING_LEFT ? "left" : "right");
}

/* What makes a recording worthless; that a speaker is faint or silent does not. */
static gboolean check_faults(unsigned faults, GError **error)
{
  static const CwTakeFault worthless[] = {CW_TAKE_SILENT,    CW_TAKE_CLIPPED,   CW_TAKE_SHORT,
                                          CW_TAKE_DISTURBED, CW_TAKE_NO_TIMING, CW_TAKE_LATE};

  for (guint i = 0; i < G_N_ELEMENTS(worthless); i++)
    if (faults & worthless[i])
      return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s", _(cw_take_fault_text(worthless[i])));
  return TRUE;
}

CwProvingOutcome *cw_job_prove_hear(CwRecord *vehicle, gint64 output, CwProvingPlace place,
                                    const CwRecording *recording, GError **error)
{
  CwSweepFeed feed;
  CwTakeResult result;
  CwProvingOutcome *outcome = NULL;
  gboolean timed = recording->channels >= 2;
  double rate_hz, *hz = NULL, *db = NULL;

  if (!cw_job_proving_feed(vehicle, output, &feed, &rate_hz, error))
    return NULL;
  CwTakeInput input = {.feed = &feed,
                       .timing = timed ? CW_TIMING_LOOPBACK : CW_TIMING_NONE,
                       .microphone = recording->channel[0],
                       .loopback = timed ? recording->channel[1] : NULL,
                       .frames = recording->frames,
                       .rate_hz = recording->rate_hz};
  cw_job_set_microphone(vehicle, &input, &hz, &db);
  cw_take_analyse(&input, &result);
  if (check_faults(result.faults, error)) {
    outcome = g_new0(CwProvingOutcome, 1);
    *outcome = (CwProvingOutcome){.output = output,
                                  .place = place,
                                  .heard = cw_proving_read(&result),
                                  .start_seconds = result.impulse_start_seconds};
    if (outcome->heard.sounded && timed)
      outcome->impulse = cw_samples_new(result.impulse_rate_hz, 1, result.impulse_frames, result.impulse);
  }
  cw_take_result_clear(&result);
  g_free(hz);
  g_free(db);
  return outcome;
}

void cw_proving_outcome_free(CwProvingOutcome *outcome)
{
  if (!outcome)
    return;
  g_clear_pointer(&outcome->impulse, cw_samples_free);
  g_free(outcome);
}

static void set_heard(CwRecord *proof, const CwProvingOutcome *outcome)
{
  const CwProvingHeard *heard = &outcome->heard;

  cw_map_proof_set_sounded(proof, CW_SOUNDED_HEARD);
  cw_map_proof_set_level_db_spl(proof, heard->level_db_spl);
  cw_map_proof_set_polarity(proof, heard->polarity < 0 ? CW_POLARITY_INVERTED : CW_POLARITY_NORMAL);
  cw_map_proof_set_polarity_confidence(proof, heard->polarity_confidence);
  cw_map_proof_set_low_hz(proof, heard->low_hz);
  cw_map_proof_set_high_hz(proof, heard->high_hz);
  cw_map_proof_set_distortion_percent(proof, heard->distortion_percent);
  cw_map_proof_set_rattle_hz(proof, heard->rattle_hz);
}

void cw_job_prove_store(CwProject *project, const CwProvingOutcome *outcome)
{
  CwRecord *vehicle = cw_project_get_vehicle(project),
           *proof = cw_job_make_map_proof(vehicle, outcome->output);
  gboolean left = outcome->place == CW_PROVING_LEFT;
  g_autofree char *now = cw_now_utc(), *blob = cw_job_proving_blob(outcome->output, outcome->place);

  cw_map_proof_set_sounds_like(proof, CW_NO_INTEGER);
  cw_map_proof_set_same_as(proof, CW_NO_INTEGER);
  cw_map_proof_set_quieter_than(proof, CW_NO_INTEGER);
  cw_map_proof_set_likeness(proof, NAN);
  cw_map_proof_set_quieter_db(proof, NAN);
  cw_map_proof_set_made_utc(proof, now);
  cw_record_set_number_at(proof,
                          left ? CW_MAP_PROOF_FIELD_ARRIVAL_LEFT_MS : CW_MAP_PROOF_FIELD_ARRIVAL_RIGHT_MS,
                          1e3 * outcome->heard.arrival_seconds);
  cw_record_set_number_at(proof, left ? CW_MAP_PROOF_FIELD_START_LEFT_MS : CW_MAP_PROOF_FIELD_START_RIGHT_MS,
                          outcome->impulse ? 1e3 * outcome->start_seconds : NAN);
  if (outcome->heard.sounded)
    set_heard(proof, outcome);
  else if (cw_map_proof_get_sounded(proof) == CW_SOUNDED_UNTRIED || left)
    cw_map_proof_set_sounded(proof, CW_SOUNDED_SILENT);
  if (outcome->impulse)
    cw_project_put_samples(project, blob, outcome->impulse);
  cw_job_review(vehicle);
}
