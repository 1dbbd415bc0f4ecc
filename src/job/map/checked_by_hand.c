/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/map/checked_by_hand.h"

#include "electrics/power.h"
#include "job/sheet/electrics.h"
#include "vehicle/project/project.h"

#include <math.h>

CwRecord *cw_job_find_map_proof(CwRecord *vehicle, gint64 output)
{
  return cw_list_find_integer(cw_record_get_children(vehicle, "map_proofs"), "output", output);
}

CwRecord *cw_job_make_map_proof(CwRecord *vehicle, gint64 output)
{
  CwRecord *proof = cw_job_find_map_proof(vehicle, output);
  if (!proof) {
    g_autoptr(CwRecord) made = cw_record_new(cw_map_proof_get_type());
    cw_record_set_integer(made, "output", output);
    cw_list_append(cw_record_get_children(vehicle, "map_proofs"), made);
    proof = cw_job_find_map_proof(vehicle, output);
  }
  return proof;
}

void cw_job_set_proven(CwRecord *vehicle, gint64 output, gboolean proven)
{
  CwRecord *proof = cw_job_make_map_proof(vehicle, output);
  g_autofree char *now = cw_now_utc();
  cw_record_set_boolean(proof, "proven", proven);
  cw_record_set_text(proof, "made_utc", now);
}

int cw_job_measured_polarity(CwRecord *vehicle, gint64 output)
{
  CwList *takes = cw_record_get_children(vehicle, "takes");
  for (guint i = cw_list_get_length(takes); i-- > 0;) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_record_get_integer(take, "output") == output && cw_record_get_boolean(take, "accepted") &&
        cw_record_get_choice(take, "polarity") >= 0)
      return cw_record_get_choice(take, "polarity");
  }
  return -1;
}

static CwRecord *make_setting(CwRecord *levels, const char *amplifier, gint64 channel)
{
  CwList *settings = cw_record_get_children(levels, "settings");
  for (guint i = 0; i < cw_list_get_length(settings); i++) {
    CwRecord *setting = cw_list_get(settings, i);
    if (cw_record_get_integer(setting, "channel") == channel &&
        g_strcmp0(cw_record_get_text(setting, "amplifier"), amplifier) == 0)
      return setting;
  }
  g_autoptr(CwRecord) made = cw_record_new(cw_level_setting_get_type());
  cw_record_set_text(made, "amplifier", amplifier);
  cw_record_set_integer(made, "channel", channel);
  cw_list_append(settings, made);
  return cw_list_get(settings, cw_list_get_length(settings) - 1);
}

/* A target is the voltage of the rated power in the real load, V = sqrt(P R), less the allowance for quiet
 * recordings; to 10 mV, as a multimeter shows it. */
void cw_job_work_out_targets(CwRecord *vehicle)
{
  CwRecord *levels = cw_record_make_child(vehicle, "levels");
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  double allowance_db = cw_record_get_number(levels, "allowance_db");
  for (guint a = 0; a < electrics->n_amplifiers; a++)
    for (guint i = 0; i < electrics->amplifiers[a].n_loads; i++) {
      const CwChannelLoad *load = &electrics->amplifiers[a].loads[i];
      CwRecord *setting = make_setting(levels, electrics->amplifiers[a].name, load->channels[0]);
      cw_record_set_number(setting, "target_v",
                           round(100 * cw_target_volts(load->power_w, load->load_ohm, allowance_db)) / 100);
    }
}
