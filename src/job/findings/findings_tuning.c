/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/findings_doubt.h"
#include "job/findings/findings_limits.h"
#include "job/findings/review.h"
#include "job/tuning/tune_record.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define NEAR 0.999   /* of a frequency, for the rounding of a processor's grid */
#define OVER_DB 0.05 /* above full scale */

static const char *speaker_name(CwRecord *vehicle, gint64 output)
{
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, output);
  return speaker ? cw_speaker_get_name(speaker) : "";
}

/* A speaker is protected where its output falls off below its lowest safe frequency. Full-range and bass
 * speakers are their own protection less often than one thinks: they are asked the same. */
static void find_unprotected(CwRecord *vehicle, CwRecord *speaker, const CwOutputSetting *setting,
                             double rate_hz)
{
  double lowest_hz = cw_speaker_get_lowest_hz(speaker);
  gint64 output = cw_speaker_get_output(speaker);

  if (isnan(lowest_hz))
    return;
  double falls_db = cw_setting_fall_db(setting, rate_hz, lowest_hz);
  gboolean corner_too_low = setting->high_pass.order > 0 && setting->high_pass.corner_hz < NEAR * lowest_hz;
  if (falls_db >= CW_SETTING_LEAST_FALL_DB && !corner_too_low)
    return;
  g_autofree char *text = g_strdup_printf(_("%s (output %d) is not protected from tones below %.0f Hz."),
                                          cw_speaker_get_name(speaker), (int)output, lowest_hz);
  g_autofree char *evidence = setting->high_pass.order
                                  ? g_strdup_printf(_("Its high-pass stands at %.0f Hz; an octave below its "
                                                      "lowest safe frequency the output is %.0f dB down."),
                                                    setting->high_pass.corner_hz, falls_db)
                                  : g_strdup_printf(_("It has no high-pass; an octave below its lowest safe "
                                                      "frequency the output is %.0f dB down."),
                                                    falls_db);
  cw_job_add_finding(vehicle, "driver-unprotected", CW_SEVERITY_STOP, CW_STAGE_TUNING, output, text, evidence,
                     _("Give it a high-pass at or above its lowest safe frequency, of 12 dB an octave or "
                       "more. Until then the proof is played 24 dB quieter."));
}

static void find_headroom(CwRecord *vehicle, CwRecord *output, const CwOutputSetting *setting, double rate_hz)
{
  CwRecord *mix = cw_tune_output_get_mix(output);
  gint64 number = cw_tune_output_get_output(output);
  double sum = mix ? fabs(cw_mix_get_left(mix)) + fabs(cw_mix_get_right(mix)) : 1;
  double peak_db = cw_setting_peak_db(setting, rate_hz) + 20 * log10(fmax(sum, 1e-9));

  if (peak_db <= OVER_DB)
    return;
  g_autofree char *text = g_strdup_printf(_("%s (output %d) goes over full scale when both sides play loud."),
                                          speaker_name(vehicle, number), (int)number);
  g_autofree char *evidence = g_strdup_printf(
      _("Mix, gain and filters add up to %+.1f dB at the frequency where they are highest."), peak_db);
  g_autofree char *advice = g_strdup_printf(
      _("Turn all outputs down by %.1f dB; the balance between them stays."), ceil(10 * peak_db) / 10);
  cw_job_add_finding(vehicle, "headroom-short", CW_SEVERITY_ATTEND, CW_STAGE_TUNING, number, text, evidence,
                     advice);
}

static void find_holes(CwRecord *vehicle, CwRecord *tune)
{
  CwList *holes = cw_tune_get_holes(tune);

  for (guint i = 0; i < cw_list_get_length(holes); i++) {
    CwRecord *hole = cw_list_get(holes, i);
    gint64 output = cw_tune_hole_get_output(hole);
    const char *name = speaker_name(vehicle, output);
    gboolean between = cw_tune_hole_get_between(hole), left = cw_tune_hole_get_side(hole) == CW_SIDE_LEFT;
    double hz = cw_tune_hole_get_hz(hole);
    g_autofree char *text =
        g_strdup_printf(left ? _("The left side keeps a hole at %.0f Hz, which is not filled by a lift.")
                             : _("The right side keeps a hole at %.0f Hz, which is not filled by a lift."),
                        hz);
    g_autofree char *evidence = g_strdup_printf(
        between ? _("It is %.0f dB deep: speakers cancel each other there; the loudest of them is %s.")
                : _("It is %.0f dB deep, in what %s alone does at the seat."),
        cw_tune_hole_get_depth_db(hole), name);
    cw_job_add_finding(vehicle, "boost-refused", CW_SEVERITY_NOTE, CW_STAGE_TUNING, output, text, evidence,
                       between ? _("Look at polarity, delay and crossover of the two speakers; a lift would "
                                   "lift both and change nothing.")
                               : _("Work for the hands: another angle or place, a firm and tight mount, "
                                   "something soft on what reflects. A lift would only eat headroom."));
  }
}

static void lacks(CwRecord *vehicle, gint64 output, const char *text, const char *evidence,
                  const char *advice)
{
  cw_job_add_finding(vehicle, "processor-lacks", CW_SEVERITY_ATTEND, CW_STAGE_TUNING, output, text, evidence,
                     advice);
}

static void find_few_outputs(CwRecord *vehicle, CwRecord *processor)
{
  gint64 has = cw_processor_get_outputs(processor);
  guint needs = cw_list_get_length(cw_vehicle_get_speakers(vehicle));

  if (has == CW_NO_INTEGER || has >= (gint64)needs)
    return;
  g_autofree char *evidence = g_strdup_printf(_("The car needs %u outputs; %s has %d."), needs,
                                              cw_processor_get_name(processor), (int)has);
  lacks(vehicle, 0, _("The processor has too few outputs."), evidence,
        _("Join speakers on one output, or use another processor."));
}

static guint count_corrections(CwRecord *tune, CwRecord *output)
{
  CwList *sections = cw_tune_output_get_sections(output), *voicing = cw_tune_get_voicing(tune);
  guint count = cw_list_get_length(voicing);

  for (guint i = 0; i < cw_list_get_length(sections); i++)
    count += cw_tune_section_get_use(cw_list_get(sections, i)) != CW_USE_CROSSOVER;
  return count;
}

static void find_short_delay(CwRecord *vehicle, CwRecord *tune, CwRecord *processor)
{
  const CwNumbers *figures = cw_tune_get_figures(tune);
  double most_ms = cw_processor_get_delay_ms_most(processor),
         wanted_ms = figures ? cw_numbers_named(figures, "delay_wanted_ms") : NAN;
  CwList *outputs = cw_tune_get_outputs(tune);

  for (guint i = 0; i < cw_list_get_length(outputs); i++)
    wanted_ms = fmax(cw_tune_output_get_delay_ms(cw_list_get(outputs, i)), isnan(wanted_ms) ? 0 : wanted_ms);
  if (isnan(wanted_ms) || wanted_ms <= most_ms + 1e-6)
    return;
  g_autofree char *evidence =
      g_strdup_printf(_("The tune wants %.2f ms; the processor gives %.2f ms at most."), wanted_ms, most_ms);
  lacks(vehicle, 0, _("The processor cannot delay enough."), evidence,
        _("The nearest speakers come early; use another processor, or leave out the farthest speaker."));
}

static void find_lacking_output(CwRecord *vehicle, CwRecord *tune, CwRecord *processor, CwRecord *output,
                                const CwOutputSetting *setting)
{
  gint64 number = cw_tune_output_get_output(output), has = cw_processor_get_sections_per_output(processor);
  gint64 order_most = cw_processor_get_crossover_order_most(processor);
  guint needs = count_corrections(tune, output);
  int order = MAX(setting->high_pass.order, setting->low_pass.order);

  if ((gint64)needs > has) {
    g_autofree char *text = g_strdup_printf(_("%s (output %d) has more filters than the processor."),
                                            speaker_name(vehicle, number), (int)number);
    g_autofree char *evidence = g_strdup_printf(_("%u with the voicing, of %d."), needs, (int)has);
    lacks(vehicle, number, text, evidence,
          _("Propose the tune again, or take filters out; those that do least first."));
  }
  if (order > order_most) {
    g_autofree char *text = g_strdup_printf(_("%s (output %d) has a steeper crossover than the processor."),
                                            speaker_name(vehicle, number), (int)number);
    g_autofree char *evidence =
        g_strdup_printf(_("%d dB an octave; the processor has %d."), 6 * order, 6 * (int)order_most);
    lacks(vehicle, number, text, evidence, _("Propose the tune again for this processor, or refit it."));
  }
}

void cw_job_find_tuning(CwRecord *vehicle)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle), *processor = cw_vehicle_get_processor(vehicle);
  CwList *outputs = tune ? cw_tune_get_outputs(tune) : NULL, *speakers = cw_vehicle_get_speakers(vehicle);

  cw_vehicle_clear_findings(vehicle, CW_STAGE_TUNING);
  if (!outputs || cw_list_get_length(outputs) == 0)
    return;
  cw_tune_renew_reasons(tune);
  double rate_hz = cw_tune_get_sample_rate_hz(tune);
  if (isnan(rate_hz))
    rate_hz = cw_processor_get_sample_rate_hz(processor);
  find_few_outputs(vehicle, processor);
  find_short_delay(vehicle, tune, processor);
  for (guint i = 0; i < cw_list_get_length(outputs); i++) {
    CwRecord *output = cw_list_get(outputs, i),
             *speaker = cw_list_find_integer_at(speakers, CW_SPEAKER_FIELD_OUTPUT,
                                                cw_tune_output_get_output(output));
    CwOutputSetting setting;
    if (cw_tune_output_get_muted(output) || !cw_job_read_setting(tune, output, rate_hz, &setting, NULL))
      continue;
    if (speaker)
      find_unprotected(vehicle, speaker, &setting, rate_hz);
    find_headroom(vehicle, output, &setting, rate_hz);
    find_lacking_output(vehicle, tune, processor, output, &setting);
  }
  find_holes(vehicle, tune);
  cw_job_find_early_limits(vehicle);
  cw_job_find_tuning_doubts(vehicle, tune);
}
