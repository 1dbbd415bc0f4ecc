/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/proof/proof.h"
#include "handover/table.h"

#include "job/proof/proof_private.h"
#include "job/sheet/microphone.h"
#include "job/takes/positions.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define SETTINGS_LETTERS 12
#define QUIET_DB 24
#define LOWEST_HZ 20 /* the processor's own crossovers keep it from speakers that do not bear it */

const char *const cw_proof_sides[] = {"left", "right", "both", NULL};

/* Whether the settings leave a speaker without a high-pass that it needs. */
static gboolean is_any_unprotected(CwRecord *vehicle)
{
  CwList *findings = cw_vehicle_get_findings(vehicle);

  for (guint i = 0; i < cw_list_get_length(findings); i++)
    if (g_str_equal(cw_finding_get_code(cw_list_get(findings, i)), "driver-unprotected"))
      return TRUE;
  return FALSE;
}

CwSweepFeed cw_job_proof_feed(CwRecord *vehicle, double *rate_hz)
{
  *rate_hz = cw_tune_get_sample_rate_hz(cw_vehicle_get_tune(vehicle));
  if (isnan(*rate_hz))
    *rate_hz = cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle));
  return cw_sweep_feed_design(LOWEST_HZ, *rate_hz,
                              CW_FEED_LEVEL_DBFS - (is_any_unprotected(vehicle) ? QUIET_DB : 0), 0);
}

char *cw_proof_settings(CwRecord *vehicle, GError **error)
{
  char *checksum = cw_table_checksum(vehicle, error);
  if (checksum)
    checksum[SETTINGS_LETTERS] = '\0';
  return checksum;
}

char *cw_proof_samples_name(const char *settings, CwSum side, const char *position)
{
  return g_strdup_printf("proof-%s-%s-%s", settings, cw_proof_sides[side], position);
}

gboolean cw_job_proof_is_current(CwRecord *vehicle)
{
  CwList *rows = cw_vehicle_get_proof(vehicle);
  g_autofree char *settings = cw_list_get_length(rows) ? cw_proof_settings(vehicle, NULL) : NULL;
  for (guint i = 0; i < cw_list_get_length(rows); i++)
    if (g_strcmp0(settings, cw_proof_row_get_settings(cw_list_get(rows, i))) != 0)
      return FALSE;
  return settings != NULL;
}

gboolean cw_job_proof_has(CwProject *project, CwSum side, const char *position)
{
  g_autofree char *settings = cw_proof_settings(cw_project_get_vehicle(project), NULL);
  g_autofree char *name = settings ? cw_proof_samples_name(settings, side, position) : NULL;
  return name && cw_project_has_samples(project, name);
}

void cw_proof_take_free(CwProofTake *take)
{
  if (!take)
    return;
  g_strfreev(take->reasons);
  g_free(take->name);
  g_clear_pointer(&take->samples, cw_samples_free);
  g_free(take);
}

static CwProofTake *make_take(unsigned faults)
{
  CwProofTake *take = g_new0(CwProofTake, 1);
  g_autoptr(GStrvBuilder) reasons = g_strv_builder_new();
  take->faults = faults;
  for (unsigned fault = 1; fault <= CW_TAKE_LAST_FAULT; fault <<= 1)
    if (faults & fault)
      g_strv_builder_add(reasons, _(cw_take_fault_text((CwTakeFault)fault)));
  take->reasons = g_strv_builder_end(reasons);
  return take;
}

CwProofTake *cw_job_proof_analyse(CwRecord *vehicle, CwSum side, const char *position,
                                  const CwRecording *recording, GError **error)
{
  double rate_hz, *hz, *db;
  CwTakeResult result;
  g_autofree char *settings =
      cw_job_check_position(vehicle, position, error) ? cw_proof_settings(vehicle, error) : NULL;
  if (!settings)
    return NULL;
  CwSweepFeed feed = cw_job_proof_feed(vehicle, &rate_hz);
  CwTakeInput input = {.feed = &feed,
                       .timing = recording->channels > 1 ? CW_TIMING_LOOPBACK : CW_TIMING_NONE,
                       .microphone = recording->channel[0],
                       .loopback = recording->channels > 1 ? recording->channel[1] : NULL,
                       .frames = recording->frames,
                       .rate_hz = recording->rate_hz};
  cw_job_set_microphone(vehicle, &input, &hz, &db);
  cw_take_analyse(&input, &result);
  g_free(hz);
  g_free(db);
  CwProofTake *take = make_take(result.faults);
  if (result.faults == 0) {
    take->name = cw_proof_samples_name(settings, side, position);
    take->samples = cw_samples_new(result.impulse_rate_hz, 1, result.impulse_frames, result.impulse);
  }
  cw_take_result_clear(&result);
  return take;
}

void cw_job_proof_store(CwProject *project, const CwProofTake *take)
{
  if (take->samples)
    cw_project_put_samples(project, take->name, take->samples);
}

CwProofTake *cw_job_proof_add(CwProject *project, CwSum side, const char *position,
                              const CwRecording *recording, GError **error)
{
  CwProofTake *take = cw_job_proof_analyse(cw_project_get_vehicle(project), side, position, recording, error);
  if (take)
    cw_job_proof_store(project, take);
  return take;
}
