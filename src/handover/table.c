/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/table.h"
#include "processor/filter.h"
#include <math.h>

/* clang-format off */
G_DEFINE_QUARK(cw-table-error-quark, cw_table_error)
/* clang-format on */

static gboolean refuse(GError **error, int code, const char *format, ...) G_GNUC_PRINTF(3, 4);

static gboolean refuse(GError **error, int code, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  g_set_error_literal(error, CW_TABLE_ERROR, code, what);
  return FALSE;
}

static gboolean add_sections(CwList *list, double rate_hz, const char *whose, int number, GArray *sections,
                             GError **error)
{
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    CwFilter filter = cw_filter_read(cw_list_get(list, i));
    CwCoefficients made[CW_CROSSOVER_MOST_SECTIONS];
    CwSection described[CW_CROSSOVER_MOST_SECTIONS];
    gsize count;
    if (filter.bypass)
      continue;
    count = cw_filter_expand(&filter, rate_hz, made, described);
    if (count == 0) {
      g_autoptr(GError) why = NULL;
      cw_filter_refuse(&filter, rate_hz, &why);
      return refuse(error, CW_TABLE_ERROR_SECTION, "%s %d, section %u: %s", whose, number, i + 1,
                    why->message);
    }
    for (gsize k = 0; k < count; k++) {
      CwTableSection section = {filter.use,
                                cw_section_kind_name(described[k].kind),
                                described[k].frequency_hz,
                                described[k].gain_db,
                                described[k].q,
                                made[k]};
      g_array_append_val(sections, section);
    }
  }
  return TRUE;
}

static gboolean read_channel(CwRecord *record, CwRecord *tune, double rate_hz, gboolean is_output,
                             CwTableChannel *channel, GError **error)
{
  const char *key = is_output ? "output" : "input";
  CwRecord *mix = cw_port_get_mix(record);
  g_autoptr(GArray) sections = g_array_new(FALSE, TRUE, sizeof(CwTableSection));
  double own_rate = cw_tune_get_sample_rate_hz(tune), samples = cw_port_get_delay_samples(record);

  channel->number =
      (int)(is_output ? cw_tune_output_get_output(record) : cw_input_correction_get_input(record));
  channel->left = mix ? cw_mix_get_left(mix) : 0;
  channel->right = mix ? cw_mix_get_right(mix) : 0;
  channel->gain_db = cw_port_get_gain_db(record);
  channel->inverted = cw_port_get_polarity(record) == CW_POLARITY_INVERTED;
  channel->delay_samples =
      isnan(own_rate) || own_rate == rate_hz ? samples : rint(samples * rate_hz / own_rate);
  if (!add_sections(cw_port_get_sections(record), rate_hz, key, channel->number, sections, error) ||
      (is_output && !add_sections(cw_tune_get_voicing(tune), rate_hz, "voicing of output", channel->number,
                                  sections, error)))
    return FALSE;
  channel->n_sections = sections->len;
  channel->sections = (CwTableSection *)(gpointer)g_array_steal(sections, NULL);
  return TRUE;
}

CwTable *cw_table_new(CwRecord *vehicle, double rate_hz, GError **error)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  CwList *outputs = tune ? cw_tune_get_outputs(tune) : NULL, *inputs = tune ? cw_tune_get_inputs(tune) : NULL;
  CwTable *table;

  if (!outputs || cw_list_get_length(outputs) == 0) {
    refuse(error, CW_TABLE_ERROR_NO_TUNE, "the vehicle has no tune yet");
    return NULL;
  }
  if (rate_hz == 0)
    rate_hz = cw_tune_get_sample_rate_hz(tune);
  if (!(rate_hz >= 8000 && rate_hz <= 768000)) {
    refuse(error, CW_TABLE_ERROR_FORMAT, "rate: %g Hz is not between 8000 and 768000", rate_hz);
    return NULL;
  }
  table = g_new0(CwTable, 1);
  table->rate_hz = rate_hz;
  table->n_outputs = cw_list_get_length(outputs);
  table->n_inputs = cw_list_get_length(inputs);
  table->outputs = g_new0(CwTableChannel, table->n_outputs);
  table->inputs = g_new0(CwTableChannel, table->n_inputs);
  for (guint i = 0; i < table->n_outputs; i++) {
    CwRecord *speaker = cw_vehicle_find_speaker(vehicle, cw_tune_output_get_output(cw_list_get(outputs, i)));
    table->outputs[i].name = g_strdup(speaker ? cw_speaker_get_name(speaker) : "");
    if (!read_channel(cw_list_get(outputs, i), tune, rate_hz, TRUE, &table->outputs[i], error)) {
      cw_table_free(table);
      return NULL;
    }
  }
  for (guint i = 0; i < table->n_inputs; i++)
    if (!read_channel(cw_list_get(inputs, i), tune, rate_hz, FALSE, &table->inputs[i], error)) {
      cw_table_free(table);
      return NULL;
    }
  return table;
}

static void clear_channels(CwTableChannel *channels, guint count)
{
  for (guint i = 0; i < count; i++) {
    g_free(channels[i].name);
    g_free(channels[i].sections);
  }
  g_free(channels);
}

void cw_table_free(CwTable *table)
{
  if (!table)
    return;
  clear_channels(table->outputs, table->n_outputs);
  clear_channels(table->inputs, table->n_inputs);
  g_free(table);
}
