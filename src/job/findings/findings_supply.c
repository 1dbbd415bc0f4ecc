/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/findings_limits.h"
#include "job/findings/review.h"
#include "job/sheet/electrics.h"

#include <glib/gi18n-lib.h>
#include <math.h>

static void judge_load(CwRecord *vehicle, const CwAmplifierSupply *amplifier, const CwChannelLoad *load,
                       gint64 output)
{
  if (load->ok)
    return;
  g_autofree char *channels = load->n_channels == 2
                                  ? g_strdup_printf(_("the bridged channels %d and %d"),
                                                    (int)load->channels[0], (int)load->channels[1])
                                  : g_strdup_printf(_("channel %d"), (int)load->channels[0]);
  /* Translators: the amplifier's name and its channel. */
  g_autofree char *text = g_strdup_printf(_("%s: the load on %s is too low."), amplifier->name, channels);
  g_autofree char *evidence = g_strdup_printf(_("%u speakers make %.3g Ω; the least allowed is %.3g Ω."),
                                              load->n_speakers, load->load_ohm, load->least_ohm);
  cw_job_add_finding(
      vehicle, "load-too-low", CW_SEVERITY_STOP, CW_STAGE_SUPPLY, output, text, evidence,
      load->n_speakers > 1 && !load->in_series
          ? _("Join the speakers in series, or give them channels of their own.")
          : _("Use a channel that bears this load, do not bridge, or fit a speaker of higher impedance."));
}

static void judge_cable(CwRecord *vehicle, const CwAmplifierSupply *a)
{
  if (cw_amplifier_cable_ok(a))
    return;
  g_autofree char *text =
      g_strdup_printf(_("%s: the supply cable of %.3g mm² is too thin."), a->name, a->fitted_mm2);
  g_autofree char *source = cw_cable_rating_source(a->fitted_mm2, a->material);
  g_autofree char *evidence =
      g_strdup_printf(_("At %.4g A it loses %.3g V over %.3g m there and back (at most %.2g V), and it bears "
                        "%.4g A (%s); the fuse for that current is %.4g A."),
                      a->current_a, a->fitted_drop_v, a->length_m, CW_ELECTRICS_MOST_DROP_V,
                      a->fitted_rating_a, source, a->cable.fuse_a);
  g_autofree char *advice =
      isnan(a->cable.size_mm2)
          ? g_strdup(_("No single standard cable will do: shorten it or divide the system."))
          : g_strdup_printf(_("Lay %.4g mm² or more."), a->cable.size_mm2);
  cw_job_add_finding(vehicle, "cable-too-thin",
                     a->fitted_rating_a < a->cable.fuse_a ? CW_SEVERITY_STOP : CW_SEVERITY_ATTEND,
                     CW_STAGE_SUPPLY, 0, text, evidence, advice);
}

static void judge_fuse(CwRecord *vehicle, const CwAmplifierSupply *a)
{
  gboolean named = !isnan(a->fitted_fuse_a);
  if (cw_amplifier_fuse_ok(a))
    return;
  double fuse_a = named ? a->fitted_fuse_a : a->cable.fuse_a;
  double rating_a = isnan(a->fitted_mm2) ? a->cable.rating_a : a->fitted_rating_a;
  g_autofree char *text =
      g_strdup_printf(named ? _("%s: the fuse of %.4g A is too large for its cable.")
                            : _("%s: the fuse that it needs, %.4g A, is too large for its cable."),
                      a->name, fuse_a);
  g_autofree char *source =
      cw_cable_rating_source(isnan(a->fitted_mm2) ? a->cable.size_mm2 : a->fitted_mm2, a->material);
  g_autofree char *evidence =
      g_strdup_printf(_("The cable bears %.4g A (%s): in a short circuit it may burn before the fuse does."),
                      rating_a, source);
  g_autofree char *advice =
      g_strdup_printf(_("Fit a fuse of at most %.4g A close to the battery, or a thicker cable."), rating_a);
  cw_job_add_finding(vehicle, "fuse-too-large", CW_SEVERITY_STOP, CW_STAGE_SUPPLY, 0, text, evidence, advice);
}

/* The first output on a channel, so that the finding points at a speaker. */
static gint64 first_output(CwRecord *vehicle, guint amplifier, gint64 channel)
{
  CwRecord *record = cw_list_get(cw_vehicle_get_amplifiers(vehicle), amplifier);
  CwRecord *found =
      cw_list_find_integer_at(cw_amplifier_get_channels(record), CW_AMPLIFIER_CHANNEL_FIELD_CHANNEL, channel);
  return found ? (gint64)cw_amplifier_channel_get_outputs(found)->values[0] : 0;
}

/* Clears and makes anew the findings of the supply stage. */
void cw_job_find_supply(CwRecord *vehicle)
{
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  cw_vehicle_clear_findings(vehicle, CW_STAGE_SUPPLY);
  for (guint i = 0; i < electrics->n_amplifiers; i++) {
    const CwAmplifierSupply *amplifier = &electrics->amplifiers[i];
    for (guint k = 0; k < amplifier->n_loads; k++)
      judge_load(vehicle, amplifier, &amplifier->loads[k],
                 first_output(vehicle, i, amplifier->loads[k].channels[0]));
    judge_cable(vehicle, amplifier);
    judge_fuse(vehicle, amplifier);
  }
  cw_job_find_power_mismatch(vehicle);
}
