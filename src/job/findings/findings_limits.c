/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/findings_limits.h"
#include "job/findings/review.h"
#include "job/sheet/electrics.h"
#include "job/tuning/loudness_limits.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define LEAST_SHORT_DB 0.5 /* less is within what the sheet's figures are worth */
#define TOO_STRONG 1.1     /* times what the speaker handles; the rest is the rounding of data sheets */
#define TOO_WEAK                                                                                             \
  0.4 /* below that the amplifier clips before the speaker is loud: common practice, no source */

void cw_job_find_early_limits(CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);

  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    CwMusicRoom room = cw_job_music_room(vehicle, speaker);
    double down_db = ceil(-2 * room.room_db) / 2;
    if (!(room.room_db < -LEAST_SHORT_DB))
      continue;
    g_autofree char *text = g_strdup_printf(
        _("%s (output %d): something gives out before the source is at its loudest: %s."),
        cw_speaker_get_name(speaker), (int)cw_speaker_get_output(speaker), cw_job_say_limit(room.by));
    g_autofree char *evidence = g_strdup_printf(
        _("Music at the target reaches that near %.0f Hz %.1f dB before the source's loudest."), room.hz,
        -room.room_db);
    g_autofree char *advice = g_strdup_printf(_("Turn this output down by %.1f dB, or set its limiter so far "
                                                "below the level of the loudest music; a "
                                                "higher corner or less boost near %.0f Hz helps too."),
                                              down_db, room.hz);
    cw_job_add_finding(vehicle, "limit-before-source", CW_SEVERITY_ATTEND, CW_STAGE_TUNING,
                       cw_speaker_get_output(speaker), text, evidence, advice);
  }
}

/* What one speaker of a load gets at full power, W: loads are alike, or nearly so. */
static void judge_power(CwRecord *vehicle, CwRecord *speaker, const CwAmplifierSupply *amplifier,
                        const CwChannelLoad *load)
{
  double handles_w = cw_speaker_get_rated_w(speaker),
         gets_w = load->n_speakers ? load->power_w / load->n_speakers : NAN,
         read_v = cw_job_read_full_scale_v(vehicle, amplifier->name, load->channels[0]),
         set_w = read_v > 0 ? gets_w * pow(read_v / load->volts, 2) : gets_w; /* as the gain is set */
  gint64 output = cw_speaker_get_output(speaker);
  gboolean strong = set_w > TOO_STRONG * handles_w;

  if (!(handles_w > 0) || !(gets_w > 0) || (!strong && gets_w >= TOO_WEAK * handles_w))
    return;
  g_autofree char *text = g_strdup_printf(strong ? _("%s (output %d) gets more power than it handles.")
                                                 : _("%s (output %d) gets far less power than it handles."),
                                          cw_speaker_get_name(speaker), (int)output);
  g_autofree char *evidence =
      g_strdup_printf(_("Channel %d of %s gives %.0f W here; the speaker handles %.0f W."),
                      (int)load->channels[0], amplifier->name, gets_w, handles_w);
  g_autofree char *advice =
      strong
          ? g_strdup_printf(_("Set the channel's gain by %.1f V instead of %.1f V, or use a limiter."),
                            sqrt(handles_w / gets_w) * load->volts, load->volts)
          : g_strdup(_("The amplifier clips before the speaker is loud: keep the gain at its target voltage, "
                       "or use a stronger channel."));
  cw_job_add_finding(vehicle, strong ? "amplifier-too-strong" : "amplifier-too-weak",
                     strong ? CW_SEVERITY_ATTEND : CW_SEVERITY_NOTE, CW_STAGE_SUPPLY, output, text, evidence,
                     advice);
}

void cw_job_find_power_mismatch(CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);

  for (guint i = 0; i < cw_list_get_length(speakers); i++)
    for (guint a = 0; a < electrics->n_amplifiers; a++)
      for (guint k = 0; k < electrics->amplifiers[a].n_loads; k++) {
        const CwChannelLoad *load = &electrics->amplifiers[a].loads[k];
        CwRecord *speaker = cw_list_get(speakers, i);
        if (cw_job_channel_drives(vehicle, electrics->amplifiers[a].name, load->channels[0],
                                  cw_speaker_get_output(speaker)))
          judge_power(vehicle, speaker, &electrics->amplifiers[a], load);
      }
}
