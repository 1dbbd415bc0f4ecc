/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/settings_text.h"

#include "handover/table.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define DB_PER_ORDER 6

/* Frequencies as people set them: to a hertz, and below 100 Hz to a tenth. */
static char *say_hz(double hz)
{
  return hz < 100 ? g_strdup_printf("%.1f Hz", hz) : g_strdup_printf("%.0f Hz", hz);
}

static void write_section(GString *text, CwRecord *section)
{
  g_autofree char *hz = say_hz(cw_tune_section_get_frequency_hz(section));
  if (cw_tune_section_get_bypass(section))
    return;
  if (cw_tune_section_get_use(section) == CW_USE_CROSSOVER)
    g_string_append_printf(text, _("  %-11s %9s   %s, %d dB per octave\n"), cw_tune_section_say_kind(section),
                           hz, cw_tune_section_say_family(section),
                           DB_PER_ORDER * (int)cw_tune_section_get_order(section));
  else
    g_string_append_printf(text, _("  %-11s %9s   %+6.1f dB   Q %.2f\n"), cw_tune_section_say_kind(section),
                           hz, cw_tune_section_get_gain_db(section), cw_tune_section_get_q(section));
}

static void write_sections(GString *text, CwList *sections)
{
  for (guint i = 0; i < cw_list_get_length(sections); i++)
    write_section(text, cw_list_get(sections, i));
}

/* Without a minus before a nought. */
static double to_tenths(double db)
{
  return round(10 * db) / 10 + 0.0;
}

/* What an input and an output have alike. */
static void write_channel(GString *text, CwRecord *channel)
{
  CwRecord *mix = cw_port_get_mix(channel);
  g_string_append_printf(text, _("  gain %+.1f dB, delay %.3f ms (%.0f samples), polarity %s"),
                         to_tenths(cw_port_get_gain_db(channel)), cw_port_get_delay_ms(channel),
                         cw_port_get_delay_samples(channel),
                         cw_port_get_polarity(channel) == CW_POLARITY_INVERTED ? _("inverted") : _("normal"));
  if (mix)
    g_string_append_printf(text, _(", left %g, right %g"), cw_mix_get_left(mix), cw_mix_get_right(mix));
  g_string_append_c(text, '\n');
  write_sections(text, cw_port_get_sections(channel));
  g_string_append_c(text, '\n');
}

static void write_output(GString *text, CwRecord *vehicle, CwRecord *output)
{
  gint64 number = cw_tune_output_get_output(output);
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, number);
  g_string_append_printf(text, _("Output %d  %s%s\n"), (int)number,
                         speaker ? cw_speaker_get_name(speaker) : "",
                         cw_tune_output_get_muted(output) ? _("  MUTED") : "");
  write_channel(text, output);
}

static void write_head(GString *text, CwRecord *vehicle, CwRecord *tune)
{
  CwRecord *processor = cw_vehicle_get_processor(vehicle);
  double rate_hz = cw_tune_get_sample_rate_hz(tune);
  if (isnan(rate_hz))
    rate_hz = cw_processor_get_sample_rate_hz(processor);
  g_string_append_printf(text, "%s  %s\n", cw_vehicle_get_reference(vehicle),
                         cw_vehicle_get_description(vehicle));
  g_string_append_printf(text, _("%s, delays in samples at %.0f Hz\n\n"), cw_processor_get_name(processor),
                         rate_hz);
}

char *cw_settings_write(CwRecord *vehicle, GError **error)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  CwList *outputs = tune ? cw_tune_get_outputs(tune) : NULL;
  if (!outputs || !cw_list_get_length(outputs)) {
    g_set_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_NO_TUNE, _("there is no tune yet"));
    return NULL;
  }
  GString *text = g_string_new(NULL);
  CwList *inputs = cw_tune_get_inputs(tune), *voicing = cw_tune_get_voicing(tune);
  write_head(text, vehicle, tune);
  for (guint i = 0; i < cw_list_get_length(inputs); i++) {
    CwRecord *input = cw_list_get(inputs, i);
    g_string_append_printf(text, _("Input %d  lead %d\n"), (int)cw_input_correction_get_input(input),
                           (int)cw_input_correction_get_lead(input));
    write_channel(text, input);
  }
  for (guint i = 0; i < cw_list_get_length(outputs); i++)
    write_output(text, vehicle, cw_list_get(outputs, i));
  if (cw_list_get_length(voicing))
    g_string_append(text, _("Voicing, the same on every output after its own filters\n"));
  write_sections(text, voicing);
  return g_string_free(text, FALSE);
}
