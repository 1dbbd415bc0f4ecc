/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/settings_text.h"

#include "handover/table.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define DB_PER_ORDER 6

static const char *say_choice(CwRecord *record, const char *key)
{
  int choice = cw_record_get_choice(record, key);
  return choice < 0 ? "" : _(cw_record_find_field(record, key)->choices[choice].label);
}

/* Frequencies as people set them: to a hertz, and below 100 Hz to a tenth. */
static char *say_hz(double hz)
{
  return hz < 100 ? g_strdup_printf("%.1f Hz", hz) : g_strdup_printf("%.0f Hz", hz);
}

static void write_section(GString *text, CwRecord *section)
{
  g_autofree char *hz = say_hz(cw_record_get_number(section, "frequency_hz"));
  if (cw_record_get_boolean(section, "bypass"))
    return;
  if (cw_record_get_choice(section, "use") == CW_USE_CROSSOVER)
    g_string_append_printf(text, _("  %-11s %9s   %s, %d dB per octave\n"), say_choice(section, "kind"), hz,
                           say_choice(section, "family"),
                           DB_PER_ORDER * (int)cw_record_get_integer(section, "order"));
  else
    g_string_append_printf(text, _("  %-11s %9s   %+6.1f dB   Q %.2f\n"), say_choice(section, "kind"), hz,
                           cw_record_get_number(section, "gain_db"), cw_record_get_number(section, "q"));
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
  CwRecord *mix = cw_record_get_child(channel, "mix");
  g_string_append_printf(
      text, _("  gain %+.1f dB, delay %.3f ms (%.0f samples), polarity %s"),
      to_tenths(cw_record_get_number(channel, "gain_db")), cw_record_get_number(channel, "delay_ms"),
      cw_record_get_number(channel, "delay_samples"),
      cw_record_get_choice(channel, "polarity") == CW_POLARITY_INVERTED ? _("inverted") : _("normal"));
  if (mix)
    g_string_append_printf(text, _(", left %g, right %g"), cw_record_get_number(mix, "left"),
                           cw_record_get_number(mix, "right"));
  g_string_append_c(text, '\n');
  write_sections(text, cw_record_get_children(channel, "sections"));
  g_string_append_c(text, '\n');
}

static void write_output(GString *text, CwRecord *vehicle, CwRecord *output)
{
  gint64 number = cw_record_get_integer(output, "output");
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, number);
  g_string_append_printf(text, _("Output %d  %s%s\n"), (int)number,
                         speaker ? cw_record_get_text(speaker, "name") : "",
                         cw_record_get_boolean(output, "muted") ? _("  MUTED") : "");
  write_channel(text, output);
}

static void write_head(GString *text, CwRecord *vehicle, CwRecord *tune)
{
  CwRecord *processor = cw_record_get_child(vehicle, "processor");
  double rate_hz = cw_record_get_number(tune, "sample_rate_hz");
  if (isnan(rate_hz))
    rate_hz = cw_record_get_number(processor, "sample_rate_hz");
  g_string_append_printf(text, "%s  %s\n", cw_record_get_text(vehicle, "reference"),
                         cw_record_get_text(vehicle, "description"));
  g_string_append_printf(text, _("%s, delays in samples at %.0f Hz\n\n"),
                         cw_record_get_text(processor, "name"), rate_hz);
}

char *cw_settings_write(CwRecord *vehicle, GError **error)
{
  CwRecord *tune = cw_record_get_child(vehicle, "tune");
  CwList *outputs = tune ? cw_record_get_children(tune, "outputs") : NULL;
  if (!outputs || !cw_list_get_length(outputs)) {
    g_set_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_NO_TUNE, _("there is no tune yet"));
    return NULL;
  }
  GString *text = g_string_new(NULL);
  CwList *inputs = cw_record_get_children(tune, "inputs"), *voicing = cw_record_get_children(tune, "voicing");
  write_head(text, vehicle, tune);
  for (guint i = 0; i < cw_list_get_length(inputs); i++) {
    CwRecord *input = cw_list_get(inputs, i);
    g_string_append_printf(text, _("Input %d  lead %d\n"), (int)cw_record_get_integer(input, "input"),
                           (int)cw_record_get_integer(input, "lead"));
    write_channel(text, input);
  }
  for (guint i = 0; i < cw_list_get_length(outputs); i++)
    write_output(text, vehicle, cw_list_get(outputs, i));
  if (cw_list_get_length(voicing))
    g_string_append(text, _("Voicing, the same on every output after its own filters\n"));
  write_sections(text, voicing);
  return g_string_free(text, FALSE);
}
