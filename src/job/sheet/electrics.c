/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/electrics.h"

#include "electrics/power.h"
#include <math.h>

/* The speakers on a channel as one load; infinite without any. */
static double join_speakers(CwRecord *vehicle, CwRecord *channel, CwChannelLoad *load)
{
  const CwNumbers *outputs = cw_amplifier_channel_get_outputs(channel);
  g_autofree double *ohm = g_new(double, outputs->n_rows + 1);
  for (guint i = 0; i < outputs->n_rows; i++) {
    CwRecord *speaker = cw_vehicle_find_speaker(vehicle, (gint64)outputs->values[i]);
    if (speaker)
      ohm[load->n_speakers++] = cw_speaker_get_nominal_ohm(speaker);
  }
  load->in_series = cw_amplifier_channel_get_wiring(channel) == 1;
  return load->in_series ? cw_series_ohm(ohm, load->n_speakers) : cw_parallel_ohm(ohm, load->n_speakers);
}

/* The power into the real load is that of the same voltage as at the rated load: P R is constant. A load
 * below the sheet's least is not given less for it: it is refused by a finding, and until then cable and fuse
 * are reckoned for what would flow as wired. */
static CwChannelLoad read_load(CwRecord *vehicle, CwRecord *channel)
{
  gint64 bridged = cw_amplifier_channel_get_bridged_with(channel);
  CwChannelLoad load = {.channels = {cw_amplifier_channel_get_channel(channel), bridged},
                        .n_channels = bridged == CW_NO_INTEGER ? 1 : 2,
                        .rated_w = cw_amplifier_channel_get_rated_w(channel),
                        .rated_ohm = cw_amplifier_channel_get_rated_ohm(channel),
                        .least_ohm = cw_amplifier_channel_get_least_ohm(channel)};
  load.load_ohm = join_speakers(vehicle, channel, &load);
  load.power_w = cw_power_at_load_w(load.rated_w, load.rated_ohm, load.load_ohm);
  load.volts = cw_power_volts(load.power_w, load.load_ohm);
  load.ok = load.load_ohm >= load.least_ohm * (1 - 1e-9);
  return load;
}

static void read_loads(CwRecord *vehicle, CwRecord *record, CwAmplifierSupply *amplifier)
{
  CwList *channels = cw_amplifier_get_channels(record);
  amplifier->loads = g_new0(CwChannelLoad, cw_list_get_length(channels) + 1);
  for (guint i = 0; i < cw_list_get_length(channels); i++) {
    CwChannelLoad load = read_load(vehicle, cw_list_get(channels, i));
    if (load.n_speakers == 0)
      continue; /* nothing on it, nothing flows */
    amplifier->loads[amplifier->n_loads++] = load;
    amplifier->power_w += load.power_w;
  }
}

static void read_amplifier(CwRecord *vehicle, CwRecord *record, double running_v,
                           CwAmplifierSupply *amplifier)
{
  CwRecord *cable = cw_amplifier_get_cable(record);
  amplifier->name = g_strdup(cw_amplifier_get_name(record));
  amplifier->efficiency = cw_amplifier_get_efficiency(record);
  amplifier->length_m = cw_cable_get_length_m(cable);
  amplifier->material = cw_cable_get_material(cable);
  amplifier->fitted_mm2 = cw_cable_get_size_mm2(cable);
  amplifier->fitted_fuse_a = cw_cable_get_fuse_a(cable);
  read_loads(vehicle, record, amplifier);
  amplifier->current_a = cw_supply_current_a(amplifier->power_w, amplifier->efficiency, running_v);
  amplifier->cable = cw_choose_cable(amplifier->current_a, amplifier->length_m, amplifier->material,
                                     CW_ELECTRICS_MOST_DROP_V);
  double ohm_per_km = cw_cable_ohm_per_km(amplifier->fitted_mm2, amplifier->material, 20);
  amplifier->fitted_drop_v = cw_two_way_drop_v(ohm_per_km, amplifier->length_m, amplifier->current_a);
  amplifier->fitted_rating_a = cw_cable_rating(amplifier->fitted_mm2, amplifier->material).current_a;
}

CwElectrics *cw_electrics_new(CwRecord *vehicle)
{
  CwList *amplifiers = cw_vehicle_get_amplifiers(vehicle);
  CwRecord *supply = cw_vehicle_get_supply(vehicle);
  CwElectrics *electrics = g_new0(CwElectrics, 1);
  electrics->running_v = cw_supply_get_running_v(supply);
  electrics->alternator_a = cw_supply_get_alternator_a(supply);
  electrics->n_amplifiers = cw_list_get_length(amplifiers);
  electrics->amplifiers = g_new0(CwAmplifierSupply, electrics->n_amplifiers + 1);
  for (guint i = 0; i < electrics->n_amplifiers; i++) {
    read_amplifier(vehicle, cw_list_get(amplifiers, i), electrics->running_v, &electrics->amplifiers[i]);
    electrics->total_a += electrics->amplifiers[i].current_a;
  }
  return electrics;
}

void cw_electrics_free(CwElectrics *electrics)
{
  if (!electrics)
    return;
  for (guint i = 0; i < electrics->n_amplifiers; i++) {
    g_free(electrics->amplifiers[i].name);
    g_free(electrics->amplifiers[i].loads);
  }
  g_free(electrics->amplifiers);
  g_free(electrics);
}

gboolean cw_amplifier_cable_ok(const CwAmplifierSupply *amplifier)
{
  if (isnan(amplifier->fitted_mm2) || !(amplifier->current_a > 0))
    return TRUE;
  return amplifier->fitted_drop_v <= CW_ELECTRICS_MOST_DROP_V &&
         amplifier->fitted_rating_a >= amplifier->cable.fuse_a;
}

gboolean cw_amplifier_fuse_ok(const CwAmplifierSupply *amplifier)
{
  double fuse_a = isnan(amplifier->fitted_fuse_a) ? amplifier->cable.fuse_a : amplifier->fitted_fuse_a;
  double rating_a = isnan(amplifier->fitted_mm2) ? amplifier->cable.rating_a : amplifier->fitted_rating_a;
  return isnan(fuse_a) || isnan(rating_a) || fuse_a <= rating_a;
}

gboolean cw_electrics_alternator_ok(const CwElectrics *electrics)
{
  return electrics->total_a <= electrics->alternator_a;
}
