/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/table.h"
#include <math.h>
#include <string.h>

static const char *const uses[] = {
    [CW_USE_CROSSOVER] = "crossover", [CW_USE_CORRECTION] = "correction", [CW_USE_VOICING] = "voicing"};

#define CODES 5 /* numbers of a section */

/* What the writers share. */
typedef struct {
  const CwTable *table;
  double a_sign; /* of a1 and a2 as written: 1 for a_sign minus */
  const CwFixedFormat *fixed;
  GString *text;
} Writer;

static void put_number(Writer *w, double value)
{
  cw_append_number(w->text, value == 0 ? 0 : value);
}

static void put_quoted(Writer *w, const char *text)
{
  g_string_append_c(w->text, '"');
  for (const char *c = text; *c; c++) {
    if (*c == '"' || *c == '\\')
      g_string_append_printf(w->text, "\\%c", *c);
    else if ((guchar)*c < 0x20)
      g_string_append_printf(w->text, "\\u%04x", (guchar)*c);
    else
      g_string_append_c(w->text, *c);
  }
  g_string_append_c(w->text, '"');
}

static void signed_coefficients(const Writer *w, const CwTableSection *s, double value[5])
{
  memcpy(value, s->c.b, sizeof s->c.b);
  value[3] = w->a_sign * s->c.a[1];
  value[4] = w->a_sign * s->c.a[2];
}

/* Codes of b0 b1 b2 a1 a2 as they are written, so with the sign convention applied. */
static gboolean fixed_codes(const Writer *w, const CwTableChannel *channel, guint index, gint64 code[5],
                            CwFixedSection *result, GError **error)
{
  const CwTableSection *s = &channel->sections[index];
  double value[5];

  if (cw_fixed_section(*w->fixed, &s->c, w->table->rate_hz, result) != CW_FIXED_FITS) {
    g_set_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_SECTION, "output %d, section %u: %s", channel->number,
                index + 1, result->advice);
    return FALSE;
  }
  signed_coefficients(w, s, value);
  for (int i = 0; i < 5; i++)
    code[i] = cw_fixed_code(*w->fixed, value[i], NULL);
  return TRUE;
}

static gboolean put_json_section(Writer *w, const CwTableChannel *channel, guint index, GError **error)
{
  const CwTableSection *s = &channel->sections[index];
  double value[5];

  signed_coefficients(w, s, value);
  g_string_append_printf(w->text,
                         "%s\n      {\"use\":\"%s\",\"kind\":\"%s\",\"frequency_hz\":", index ? "," : "",
                         uses[s->use], s->kind);
  put_number(w, s->frequency_hz);
  g_string_append(w->text, ",\"gain_db\":");
  put_number(w, s->gain_db);
  g_string_append(w->text, ",\"q\":");
  put_number(w, s->q);
  for (int i = 0; i < 5; i++) {
    g_string_append(w->text, i == 0 ? ",\"b\":[" : i == 3 ? "],\"a\":[1," : ",");
    put_number(w, value[i]);
  }
  g_string_append_c(w->text, ']');
  if (w->fixed) {
    gint64 code[5];
    CwFixedSection result;
    if (!fixed_codes(w, channel, index, code, &result, error))
      return FALSE;
    g_string_append(w->text, ",\"codes\":[");
    for (int i = 0; i < 5; i++)
      g_string_append_printf(w->text, "%s%" G_GINT64_FORMAT, i ? "," : "", code[i]);
    g_string_append(w->text, "],\"worst_error_db\":");
    put_number(w, result.worst_error_db);
  }
  g_string_append_c(w->text, '}');
  return TRUE;
}

static gboolean put_json_channel(Writer *w, const CwTableChannel *channel, const char *key, gboolean first,
                                 GError **error)
{
  g_string_append_printf(w->text, "%s\n    {\"%s\":%d,", first ? "" : ",", key, channel->number);
  if (channel->name) {
    g_string_append(w->text, "\"name\":");
    put_quoted(w, channel->name);
    g_string_append_c(w->text, ',');
  }
  g_string_append(w->text, "\"mix\":{\"left\":");
  put_number(w, channel->left);
  g_string_append(w->text, ",\"right\":");
  put_number(w, channel->right);
  g_string_append(w->text, "},\"gain_db\":");
  put_number(w, channel->gain_db);
  g_string_append_printf(
      w->text, ",\"polarity\":\"%s\",\"delay_samples\":", channel->inverted ? "inverted" : "normal");
  put_number(w, channel->delay_samples);
  g_string_append(w->text, ",\"delay_ms\":");
  put_number(w, 1e3 * channel->delay_samples / w->table->rate_hz);
  g_string_append(w->text, ",\"sections\":[");
  for (guint i = 0; i < channel->n_sections; i++)
    if (!put_json_section(w, channel, i, error))
      return FALSE;
  g_string_append(w->text, "]}");
  return TRUE;
}

static gboolean write_json(Writer *w, GError **error)
{
  const CwTable *t = w->table;

  g_string_append(w->text, "{\"format\":\"cabinwright-table\",\"version\":1,\n  \"sample_rate_hz\":");
  put_number(w, t->rate_hz);
  g_string_append_printf(w->text, ",\"a_sign\":\"%s\",", w->a_sign < 0 ? "plus" : "minus");
  if (w->fixed)
    g_string_append_printf(w->text, "\"fixed\":\"%d.%d\",", w->fixed->integer_bits, w->fixed->fraction_bits);
  g_string_append(w->text, "\n  \"outputs\":[");
  for (guint i = 0; i < t->n_outputs; i++)
    if (!put_json_channel(w, &t->outputs[i], "output", i == 0, error))
      return FALSE;
  g_string_append(w->text, "],\n  \"inputs\":[");
  for (guint i = 0; i < t->n_inputs; i++)
    if (!put_json_channel(w, &t->inputs[i], "input", i == 0, error))
      return FALSE;
  g_string_append(w->text, "]}\n");
  return TRUE;
}

/* A name as a cell: spreadsheets take a leading = + - @ for a formula, blanks in front or not, so that gets
 * an apostrophe in front. CSV quotes what holds a comma or a quote (RFC 4180); a tab has no such way, and
 * becomes a blank like every other control. */
static char *cell(const char *text, char separator)
{
  g_autofree char *safe = g_strdup(text ? text : "");

  for (char *c = safe; *c; c++)
    if ((guchar)*c < 0x20 || *c == 0x7f)
      *c = ' ';
  gsize blanks = strspn(safe, " ");
  gboolean formula = safe[blanks] && strchr("=+-@", safe[blanks]);
  if (separator == '\t' || !strpbrk(safe, ",\""))
    return formula ? g_strconcat("'", safe, NULL) : g_steal_pointer(&safe);
  g_auto(GStrv) parts = g_strsplit(safe, "\"", -1);
  g_autofree char *doubled = g_strjoinv("\"\"", parts);
  return g_strconcat(formula ? "\"'" : "\"", doubled, "\"", NULL);
}

/* The codes of a section's numbers where a fixed-point format is told; empty cells beside what has no
 * section. */
static gboolean put_codes(Writer *w, const CwTableChannel *channel, guint section, char separator,
                          GError **error)
{
  gint64 code[CODES] = {0};
  CwFixedSection result;
  gboolean is_there = section < channel->n_sections;

  if (!w->fixed)
    return TRUE;
  if (is_there && !fixed_codes(w, channel, section, code, &result, error))
    return FALSE;
  for (int k = 0; k < CODES; k++) {
    g_string_append_c(w->text, separator);
    if (is_there)
      g_string_append_printf(w->text, "%" G_GINT64_FORMAT, code[k]);
  }
  return TRUE;
}

static gboolean put_separated_rows(Writer *w, const CwTableChannel *channel, const char *what, char separator,
                                   GError **error)
{
  g_autofree char *name = cell(channel->name, separator);
  double settings[] = {channel->left, channel->right, channel->gain_db, channel->inverted ? -1 : 1,
                       channel->delay_samples};

  for (guint i = 0; i < MAX(channel->n_sections, 1); i++) {
    const CwTableSection *s = i < channel->n_sections ? &channel->sections[i] : NULL;
    double value[5] = {1, 0, 0, 0, 0};
    g_string_append_printf(w->text, "%s%c%d%c%s", what, separator, channel->number, separator, name);
    for (guint k = 0; k < G_N_ELEMENTS(settings); k++) {
      g_string_append_c(w->text, separator);
      put_number(w, settings[k]);
    }
    if (s)
      signed_coefficients(w, s, value);
    g_string_append_printf(w->text, "%c%u%c%s%c%s", separator, s ? i + 1 : 0, separator,
                           s ? uses[s->use] : "", separator, s ? s->kind : "");
    double shape[] = {s ? s->frequency_hz : 0,
                      s ? s->gain_db : 0,
                      s ? s->q : 0,
                      value[0],
                      value[1],
                      value[2],
                      value[3],
                      value[4]};
    for (guint k = 0; k < G_N_ELEMENTS(shape); k++) {
      g_string_append_c(w->text, separator);
      put_number(w, shape[k]);
    }
    if (!put_codes(w, channel, i, separator, error))
      return FALSE;
    g_string_append_c(w->text, separator);
    put_number(w, w->table->rate_hz);
    g_string_append_printf(w->text, "%c%s", separator, w->a_sign < 0 ? "plus" : "minus");
    g_string_append_c(w->text, '\n');
  }
  return TRUE;
}

static gboolean write_separated(Writer *w, char separator, GError **error)
{
  static const char *const columns[] = {
      "channel", "number", "name", "left",         "right",           "gain_db", "polarity", "delay_samples",
      "section", "use",    "kind", "frequency_hz", "section_gain_db", "q",       "b0",       "b1",
      "b2",      "a1",     "a2"};
  static const char *const codes[] = {"b0_code", "b1_code", "b2_code", "a1_code", "a2_code"};

  for (guint i = 0; i < G_N_ELEMENTS(columns); i++)
    g_string_append_printf(w->text, "%.*s%s", i > 0, &separator, columns[i]);
  for (guint i = 0; w->fixed && i < G_N_ELEMENTS(codes); i++)
    g_string_append_printf(w->text, "%c%s", separator, codes[i]);
  g_string_append_printf(w->text, "%csample_rate_hz%ca_sign\n", separator, separator);
  for (guint i = 0; i < w->table->n_inputs; i++)
    if (!put_separated_rows(w, &w->table->inputs[i], "input", separator, error))
      return FALSE;
  for (guint i = 0; i < w->table->n_outputs; i++)
    if (!put_separated_rows(w, &w->table->outputs[i], "output", separator, error))
      return FALSE;
  return TRUE;
}

static gboolean put_c_channel(Writer *w, const CwTableChannel *channel, const char *what, GError **error)
{
  g_string_append_printf(w->text, "\n/* %s %d: mix left ", what, channel->number);
  put_number(w, channel->left);
  g_string_append(w->text, ", right ");
  put_number(w, channel->right);
  g_string_append(w->text, "; gain ");
  put_number(w, channel->gain_db);
  g_string_append_printf(w->text, " dB, %s, delay ", channel->inverted ? "inverted" : "normal");
  put_number(w, channel->delay_samples);
  g_string_append_printf(w->text, " samples */\nstatic const %s cabinwright_%s_%d[%u][5] = {\n",
                         w->fixed ? "int32_t" : "double", what, channel->number, MAX(channel->n_sections, 1));
  for (guint i = 0; i < channel->n_sections; i++) {
    double value[5];
    gint64 code[5];
    CwFixedSection result;
    signed_coefficients(w, &channel->sections[i], value);
    if (w->fixed && !fixed_codes(w, channel, i, code, &result, error))
      return FALSE;
    g_string_append(w->text, "  {");
    for (int k = 0; k < 5; k++) {
      g_string_append(w->text, k ? ", " : "");
      if (w->fixed)
        g_string_append_printf(w->text, "%" G_GINT64_FORMAT, code[k]);
      else
        put_number(w, value[k]);
    }
    g_string_append_printf(w->text, "}, /* %s */\n", channel->sections[i].kind);
  }
  g_string_append(w->text, channel->n_sections ? "};\n" : "  {0},\n};\n");
  return TRUE;
}

static gboolean write_c(Writer *w, GError **error)
{
  g_string_append(w->text, "/* Coefficients b0 b1 b2 a1 a2 of second-order sections, in the order in which "
                           "they run.\n * y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] ");
  g_string_append(w->text, w->a_sign < 0 ? "+ a1 y[n-1] + a2 y[n-2]" : "- a1 y[n-1] - a2 y[n-2]");
  g_string_append(w->text, ", sample rate ");
  put_number(w, w->table->rate_hz);
  g_string_append(w->text, " Hz");
  if (w->fixed)
    g_string_append_printf(w->text, ", fixed point %d.%d", w->fixed->integer_bits, w->fixed->fraction_bits);
  g_string_append(w->text, ". */\n#include <stdint.h>\n");
  for (guint i = 0; i < w->table->n_inputs; i++)
    if (!put_c_channel(w, &w->table->inputs[i], "input", error))
      return FALSE;
  for (guint i = 0; i < w->table->n_outputs; i++)
    if (!put_c_channel(w, &w->table->outputs[i], "output", error))
      return FALSE;
  return TRUE;
}

char *cw_table_write(const CwTable *table, const char *format, gboolean a_sign_plus,
                     const CwFixedFormat *fixed, GError **error)
{
  Writer w = {table, a_sign_plus ? -1 : 1, fixed, g_string_new(NULL)};
  gboolean written = FALSE;

  if (g_str_equal(format, "json"))
    written = write_json(&w, error);
  else if (g_str_equal(format, "csv") || g_str_equal(format, "tsv"))
    written = write_separated(&w, format[0] == 'c' ? ',' : '\t', error);
  else if (g_str_equal(format, "c"))
    written = write_c(&w, error);
  else
    g_set_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_FORMAT, "format: %s is none of json, csv, tsv, c",
                format);
  return g_string_free(w.text, !written);
}

char *cw_table_checksum(CwRecord *vehicle, GError **error)
{
  g_autoptr(CwTable) table = cw_table_new(vehicle, 0, error);
  g_autofree char *text = table ? cw_table_write(table, "json", FALSE, NULL, error) : NULL;
  return text ? g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1) : NULL;
}
