/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/table.h"
#include "signal/filters/crossover.h"
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

static guint expand_crossover(CwRecord *section, double rate_hz, CwTableSection *out)
{
  static const CwFilterFamily families[] = {[CW_FAMILY_BUTTERWORTH] = CW_FILTER_BUTTERWORTH,
                                            [CW_FAMILY_LINKWITZ_RILEY] = CW_FILTER_LINKWITZ_RILEY,
                                            [CW_FAMILY_BESSEL] = CW_FILTER_BESSEL};
  CwCoefficients c[CW_CROSSOVER_MOST_SECTIONS];
  CwSection s[CW_CROSSOVER_MOST_SECTIONS];
  CwPass pass = cw_record_get_choice(section, "kind") == CW_SHAPE_HIGH_PASS ? CW_HIGH_PASS : CW_LOW_PASS;
  gsize count = cw_crossover_design(families[cw_record_get_choice(section, "family")], pass,
                                    (int)cw_record_get_integer(section, "order"),
                                    cw_record_get_number(section, "frequency_hz"), rate_hz, c, s);

  for (gsize i = 0; i < count; i++)
    out[i] = (CwTableSection){cw_record_get_choice(section, "use"),
                              cw_section_kind_name(s[i].kind),
                              s[i].frequency_hz,
                              0,
                              s[i].q,
                              c[i]};
  return (guint)count;
}

guint cw_table_expand(CwRecord *section, double rate_hz, CwTableSection *out, GError **error)
{
  static const CwSectionKind kinds[] = {
      [CW_SHAPE_LOW_PASS] = CW_SECTION_LOW_PASS,     [CW_SHAPE_HIGH_PASS] = CW_SECTION_HIGH_PASS,
      [CW_SHAPE_PEAKING] = CW_SECTION_PEAKING,       [CW_SHAPE_LOW_SHELF] = CW_SECTION_LOW_SHELF,
      [CW_SHAPE_HIGH_SHELF] = CW_SECTION_HIGH_SHELF, [CW_SHAPE_NOTCH] = CW_SECTION_NOTCH,
      [CW_SHAPE_ALL_PASS] = CW_SECTION_ALL_PASS};
  CwSection s = {kinds[cw_record_get_choice(section, "kind")], cw_record_get_number(section, "frequency_hz"),
                 cw_record_get_number(section, "gain_db"), cw_record_get_number(section, "q")};
  gboolean pass = s.kind == CW_SECTION_LOW_PASS || s.kind == CW_SECTION_HIGH_PASS;
  guint count = 1;

  if (pass && cw_record_is_known(section, "family")) {
    count = expand_crossover(section, rate_hz, out);
  } else if (pass && cw_record_get_integer(section, "order") == 1) {
    s.kind = s.kind == CW_SECTION_LOW_PASS ? CW_SECTION_LOW_PASS_FIRST : CW_SECTION_HIGH_PASS_FIRST;
    count = cw_section_design(&s, rate_hz, &out->c) ? 1 : 0;
    *out = (CwTableSection){
        cw_record_get_choice(section, "use"), cw_section_kind_name(s.kind), s.frequency_hz, 0, s.q, out->c};
  } else {
    CwCoefficients c;
    count = cw_section_design(&s, rate_hz, &c) ? 1 : 0;
    *out = (CwTableSection){cw_record_get_choice(section, "use"),
                            cw_section_kind_name(s.kind),
                            s.frequency_hz,
                            cw_section_kind_has_gain(s.kind) ? s.gain_db : 0,
                            s.q,
                            c};
  }
  if (count == 0)
    refuse(error, CW_TABLE_ERROR_SECTION, "%s at %g Hz cannot be made at a sample rate of %g Hz",
           cw_section_kind_name(s.kind), s.frequency_hz, rate_hz);
  return count;
}

static gboolean add_sections(CwList *list, double rate_hz, const char *whose, int number, GArray *sections,
                             GError **error)
{
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    CwTableSection expanded[CW_TABLE_SECTION_MOST];
    CwRecord *section = cw_list_get(list, i);
    guint count;
    if (cw_record_get_boolean(section, "bypass"))
      continue;
    count = cw_table_expand(section, rate_hz, expanded, error);
    if (count == 0) {
      g_prefix_error(error, "%s %d, section %u: ", whose, number, i + 1);
      return FALSE;
    }
    g_array_append_vals(sections, expanded, count);
  }
  return TRUE;
}

static gboolean read_channel(CwRecord *record, CwRecord *tune, double rate_hz, gboolean is_output,
                             CwTableChannel *channel, GError **error)
{
  const char *key = is_output ? "output" : "input";
  CwRecord *mix = cw_record_get_child(record, "mix");
  g_autoptr(GArray) sections = g_array_new(FALSE, TRUE, sizeof(CwTableSection));
  double own_rate = cw_record_get_number(tune, "sample_rate_hz"),
         samples = cw_record_get_number(record, "delay_samples");

  channel->number = (int)cw_record_get_integer(record, key);
  channel->left = mix ? cw_record_get_number(mix, "left") : 0;
  channel->right = mix ? cw_record_get_number(mix, "right") : 0;
  channel->gain_db = cw_record_get_number(record, "gain_db");
  channel->inverted = cw_record_get_choice(record, "polarity") == CW_POLARITY_INVERTED;
  channel->delay_samples =
      isnan(own_rate) || own_rate == rate_hz ? samples : rint(samples * rate_hz / own_rate);
  if (!add_sections(cw_record_get_children(record, "sections"), rate_hz, key, channel->number, sections,
                    error) ||
      (is_output && !add_sections(cw_record_get_children(tune, "voicing"), rate_hz, "voicing of output",
                                  channel->number, sections, error)))
    return FALSE;
  channel->n_sections = sections->len;
  channel->sections = (CwTableSection *)(gpointer)g_array_steal(sections, NULL);
  return TRUE;
}

CwTable *cw_table_new(CwRecord *vehicle, double rate_hz, GError **error)
{
  CwRecord *tune = cw_record_get_child(vehicle, "tune");
  CwList *outputs = tune ? cw_record_get_children(tune, "outputs") : NULL,
         *inputs = tune ? cw_record_get_children(tune, "inputs") : NULL;
  CwTable *table;

  if (!outputs || cw_list_get_length(outputs) == 0) {
    refuse(error, CW_TABLE_ERROR_NO_TUNE, "the vehicle has no tune yet");
    return NULL;
  }
  if (rate_hz == 0)
    rate_hz = cw_record_get_number(tune, "sample_rate_hz");
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
    CwRecord *speaker =
        cw_vehicle_find_speaker(vehicle, cw_record_get_integer(cw_list_get(outputs, i), "output"));
    table->outputs[i].name = g_strdup(speaker ? cw_record_get_text(speaker, "name") : "");
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
