/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/review.h"
#include "job/map/map_check.h"
#include "job/proof/proof.h"
#include "job/takes/first_sounds.h"
#include "job/takes/positions.h"
#include <glib/gi18n-lib.h>

/* A stage's state and what is missing, by what the vehicle holds. */
typedef struct {
  int state;
  char *missing; /* owned; NULL for nothing */
} Standing;

static Standing standing(int state, char *missing)
{
  return (Standing){state, missing};
}

static gboolean has_findings(CwRecord *vehicle, CwRouteStage stage)
{
  CwList *findings = cw_vehicle_get_findings(vehicle);

  for (guint i = 0; i < cw_list_get_length(findings); i++) {
    CwRecord *finding = cw_list_get(findings, i);
    if (cw_finding_get_stage(finding) == stage && cw_finding_get_severity(finding) != CW_SEVERITY_NOTE)
      return TRUE;
  }
  return FALSE;
}

static Standing stand_sheet(CwRecord *vehicle)
{
  guint speakers = cw_list_get_length(cw_vehicle_get_speakers(vehicle));
  return speakers ? standing(CW_STAGE_DONE, NULL) : standing(CW_STAGE_BEGUN, g_strdup(_("no speakers yet")));
}

static Standing stand_supply(CwRecord *vehicle)
{
  return cw_list_get_length(cw_vehicle_get_amplifiers(vehicle))
             ? standing(CW_STAGE_DONE, NULL)
             : standing(CW_STAGE_UNTOUCHED, g_strdup(_("no amplifiers entered")));
}

static Standing stand_signal(CwRecord *vehicle)
{
  return cw_vehicle_get_survey(vehicle) ? standing(CW_STAGE_DONE, NULL)
                                        : standing(CW_STAGE_UNTOUCHED, g_strdup(_("no survey yet")));
}

static Standing stand_map(CwRecord *vehicle)
{
  CwList *proofs = cw_vehicle_get_map_proofs(vehicle), *speakers = cw_vehicle_get_speakers(vehicle);
  guint proven = 0;

  for (guint i = 0; i < cw_list_get_length(proofs); i++)
    proven += cw_map_proof_get_proven(cw_list_get(proofs, i));
  if (proven >= cw_list_get_length(speakers) && proven > 0)
    return standing(CW_STAGE_DONE, NULL);
  return standing(proven ? CW_STAGE_BEGUN : CW_STAGE_UNTOUCHED,
                  g_strdup_printf(_("%u of %u speakers proven"), proven, cw_list_get_length(speakers)));
}

static Standing stand_levels(CwRecord *vehicle)
{
  CwRecord *levels = cw_vehicle_get_levels(vehicle);
  CwList *settings = levels ? cw_levels_get_settings(levels) : NULL;
  guint done = 0, count = settings ? cw_list_get_length(settings) : 0;

  for (guint i = 0; i < count; i++)
    done += cw_level_setting_get_done(cw_list_get(settings, i));
  if (count && done == count)
    return standing(CW_STAGE_DONE, NULL);
  return standing(done ? CW_STAGE_BEGUN : CW_STAGE_UNTOUCHED,
                  count ? g_strdup_printf(_("%u of %u gains set"), done, count)
                        : g_strdup(_("no gains set yet")));
}

static Standing stand_measuring(CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  const char *seat = cw_vehicle_get_seats(vehicle)[0];
  g_auto(GStrv) positions = cw_job_positions(vehicle, seat);
  guint taken = 0, wanted = 0;

  for (guint i = 0; i < cw_list_get_length(speakers); i++)
    for (guint k = 0; positions[k]; k++, wanted++)
      taken += cw_job_find_take(vehicle, cw_speaker_get_output(cw_list_get(speakers, i)), positions[k],
                                CW_PURPOSE_TUNING) != NULL;
  if (wanted && taken == wanted)
    return standing(CW_STAGE_DONE, NULL);
  return standing(taken ? CW_STAGE_BEGUN : CW_STAGE_UNTOUCHED,
                  g_strdup_printf(_("%u of %u takes"), taken, wanted));
}

static gboolean has_tune(CwRecord *vehicle)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  return tune && cw_list_get_length(cw_tune_get_outputs(tune));
}

static Standing stand_tuning(CwRecord *vehicle)
{
  return has_tune(vehicle) ? standing(CW_STAGE_DONE, NULL)
                           : standing(CW_STAGE_UNTOUCHED, g_strdup(_("no tune yet")));
}

static Standing stand_proof(CwRecord *vehicle)
{
  if (cw_list_get_length(cw_vehicle_get_proof(vehicle)) == 0)
    return standing(CW_STAGE_UNTOUCHED, g_strdup(_("not measured again yet")));
  return cw_job_proof_is_current(vehicle)
             ? standing(CW_STAGE_DONE, NULL)
             : standing(CW_STAGE_BEGUN, g_strdup(_("the settings have changed since")));
}

static Standing stand_handover(CwRecord *vehicle)
{
  return has_tune(vehicle) ? standing(CW_STAGE_BEGUN, g_strdup(_("ready to export")))
                           : standing(CW_STAGE_UNTOUCHED, g_strdup(_("needs a tune")));
}

void cw_job_set_stage_states(CwRecord *vehicle)
{
  static Standing (*const stand[CW_ROUTE_STAGE_COUNT])(CwRecord *) = {
      stand_sheet,     stand_supply, stand_signal, stand_map,     stand_levels,
      stand_measuring, stand_tuning, stand_proof,  stand_handover};

  for (int stage = 0; stage < CW_ROUTE_STAGE_COUNT; stage++) {
    CwRecord *record = cw_vehicle_find_stage(vehicle, stage);
    Standing now = stand[stage](vehicle);
    if (now.state != CW_STAGE_UNTOUCHED && has_findings(vehicle, stage))
      now.state = CW_STAGE_TO_SETTLE;
    cw_stage_set_state(record, now.state);
    cw_stage_set_missing(record, now.missing ? now.missing : "");
    g_free(now.missing);
  }
}

void cw_job_review(CwRecord *vehicle)
{
  cw_job_settle_first_sounds(vehicle);
  cw_job_find_supply(vehicle);
  cw_job_find_signal(vehicle);
  cw_job_find_map(vehicle);
  cw_job_find_measuring(vehicle);
  cw_job_find_tuning(vehicle);
  cw_job_set_stage_states(vehicle);
}
