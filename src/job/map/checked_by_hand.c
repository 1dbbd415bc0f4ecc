/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/map/checked_by_hand.h"

#include "electrics/power.h"
#include "job/sheet/electrics.h"
#include "vehicle/project/project.h"

#include <math.h>

CwRecord *cw_job_find_map_proof(CwRecord *vehicle, gint64 output)
{
  return cw_list_find_integer_at(cw_vehicle_get_map_proofs(vehicle), CW_MAP_PROOF_FIELD_OUTPUT, output);
}

CwRecord *cw_job_make_map_proof(CwRecord *vehicle, gint64 output)
{
  CwRecord *proof = cw_job_find_map_proof(vehicle, output);
  if (!proof) {
    g_autoptr(CwRecord) made = cw_record_new(cw_map_proof_get_type());
    cw_map_proof_set_output(made, output);
    cw_list_append(cw_vehicle_get_map_proofs(vehicle), made);
    proof = cw_job_find_map_proof(vehicle, output);
  }
  return proof;
}

void cw_job_set_proven(CwRecord *vehicle, gint64 output, gboolean proven)
{
  CwRecord *proof = cw_job_make_map_proof(vehicle, output);
  g_autofree char *now = cw_now_utc();
  cw_map_proof_set_proven(proof, proven);
  cw_map_proof_set_made_utc(proof, now);
}

int cw_job_measured_polarity(CwRecord *vehicle, gint64 output)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  for (guint i = cw_list_get_length(takes); i-- > 0;) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_take_get_output(take) == output && cw_take_get_accepted(take) && cw_take_get_polarity(take) >= 0)
      return cw_take_get_polarity(take) == CW_HEARD_OPEN ? -1 : cw_take_get_polarity(take);
  }
  return -1;
}

static CwRecord *make_setting(CwRecord *levels, const char *amplifier, gint64 channel)
{
  CwList *settings = cw_levels_get_settings(levels);
  for (guint i = 0; i < cw_list_get_length(settings); i++) {
    CwRecord *setting = cw_list_get(settings, i);
    if (cw_level_setting_get_channel(setting) == channel &&
        g_strcmp0(cw_level_setting_get_amplifier(setting), amplifier) == 0)
      return setting;
  }
  g_autoptr(CwRecord) made = cw_record_new(cw_level_setting_get_type());
  cw_level_setting_set_amplifier(made, amplifier);
  cw_level_setting_set_channel(made, channel);
  cw_list_append(settings, made);
  return cw_list_get(settings, cw_list_get_length(settings) - 1);
}

/* A target is the voltage of the rated power in the real load, V = sqrt(P R), less the allowance for quiet
 * recordings; to 10 mV, as a multimeter shows it. */
void cw_job_work_out_targets(CwRecord *vehicle)
{
  CwRecord *levels = cw_vehicle_make_levels(vehicle);
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  double allowance_db = cw_levels_get_allowance_db(levels);
  for (guint a = 0; a < electrics->n_amplifiers; a++)
    for (guint i = 0; i < electrics->amplifiers[a].n_loads; i++) {
      const CwChannelLoad *load = &electrics->amplifiers[a].loads[i];
      CwRecord *setting = make_setting(levels, electrics->amplifiers[a].name, load->channels[0]);
      cw_level_setting_set_target_v(
          setting, round(100 * cw_target_volts(load->power_w, load->load_ohm, allowance_db)) / 100);
    }
}
