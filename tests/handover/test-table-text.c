/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuned.h"

#include <json-glib/json-glib.h>
#include <math.h>
#include <string.h>

static char *written(const CwTable *table, const char *format, gboolean plus, const CwFixedFormat *fixed)
{
  g_autoptr(GError) error = NULL;
  char *text = cw_table_write(table, format, plus, fixed, &error);
  g_assert_no_error(error);
  return text;
}

/* Another reader's view of the JSON: every number comes back as the same double, in the order of the table.
 */
static void test_json(void)
{
  for (int plus = 0; plus < 2; plus++) {
    g_autoptr(CwTable) table = tuned_table(0);
    g_autofree char *text = written(table, "json", plus, NULL);
    g_autoptr(JsonParser) parser = json_parser_new();
    g_autoptr(GError) error = NULL;
    g_assert_true(json_parser_load_from_data(parser, text, -1, &error));
    JsonObject *root = json_node_get_object(json_parser_get_root(parser));
    g_assert_cmpstr(json_object_get_string_member(root, "format"), ==, "cabinwright-table");
    g_assert_cmpstr(json_object_get_string_member(root, "a_sign"), ==, plus ? "plus" : "minus");
    g_assert_cmpfloat(json_object_get_double_member(root, "sample_rate_hz"), ==, 96000);
    JsonArray *outputs = json_object_get_array_member(root, "outputs");
    g_assert_cmpuint(json_array_get_length(outputs), ==, table->n_outputs);
    for (guint o = 0; o < table->n_outputs; o++) {
      JsonObject *output = json_array_get_object_element(outputs, o);
      const CwTableChannel *channel = &table->outputs[o];
      g_assert_cmpint(json_object_get_int_member(output, "output"), ==, channel->number);
      g_assert_cmpstr(json_object_get_string_member(output, "name"), ==, channel->name);
      g_assert_cmpfloat(json_object_get_double_member(output, "gain_db"), ==, channel->gain_db);
      g_assert_cmpfloat(json_object_get_double_member(output, "delay_samples"), ==, channel->delay_samples);
      g_assert_cmpstr(json_object_get_string_member(output, "polarity"), ==,
                      channel->inverted ? "inverted" : "normal");
      JsonArray *sections = json_object_get_array_member(output, "sections");
      g_assert_cmpuint(json_array_get_length(sections), ==, channel->n_sections);
      for (guint s = 0; s < channel->n_sections; s++) {
        JsonObject *section = json_array_get_object_element(sections, s);
        JsonArray *b = json_object_get_array_member(section, "b"),
                  *a = json_object_get_array_member(section, "a");
        g_assert_cmpfloat(json_array_get_double_element(a, 0), ==, 1);
        for (guint k = 0; k < 3; k++) {
          g_assert_cmpfloat(json_array_get_double_element(b, k), ==, channel->sections[s].c.b[k]);
          if (k)
            g_assert_cmpfloat(json_array_get_double_element(a, k), ==,
                              (plus ? -1 : 1) * channel->sections[s].c.a[k]);
        }
      }
    }
    g_assert_cmpuint(json_array_get_length(json_object_get_array_member(root, "inputs")), ==, 1);
  }
}

/* Rows and columns by name; a name that a spreadsheet would reckon with or take apart is made harmless;
 * numbers have a full stop whatever the place. */
static void test_separated(void)
{
  g_autoptr(CwTable) table = tuned_table(0);
  g_autofree char *tsv = written(table, "tsv", FALSE, NULL), *csv = written(table, "csv", FALSE, NULL);
  g_auto(GStrv) lines = g_strsplit(g_strchomp(tsv), "\n", -1), head = g_strsplit(lines[0], "\t", -1);
  guint columns = g_strv_length(head);
  g_assert_cmpuint(g_strv_length(lines), ==, 1 + 1 + 4 + 1);
  g_assert_cmpstr(head[0], ==, "channel");
  for (guint l = 1; lines[l]; l++) {
    g_auto(GStrv) cells = g_strsplit(lines[l], "\t", -1);
    g_assert_cmpuint(g_strv_length(cells), ==, columns);
    const CwTableChannel *channel = l == 1  ? &table->inputs[0]
                                    : l < 6 ? &table->outputs[0]
                                            : &table->outputs[1];
    const CwTableSection *section = &channel->sections[l == 1 || l == 6 ? 0 : l - 2];
    g_assert_cmpstr(cells[0], ==, l == 1 ? "input" : "output");
    for (guint c = 0; c < columns; c++) {
      double value = g_ascii_strtod(cells[c], NULL);
      if (g_str_equal(head[c], "gain_db"))
        g_assert_cmpfloat(value, ==, channel->gain_db);
      if (g_str_equal(head[c], "b1"))
        g_assert_cmpfloat(value, ==, section->c.b[1]);
      if (g_str_equal(head[c], "a2"))
        g_assert_cmpfloat(value, ==, section->c.a[2]);
      if (g_str_equal(head[c], "polarity"))
        g_assert_cmpfloat(value, ==, channel->inverted ? -1 : 1);
      if (g_str_equal(head[c], "name") && channel == &table->outputs[0])
        g_assert_cmpstr(cells[c], ==, "'=front, \"left\"");
    }
  }
  g_assert_nonnull(
      strstr(csv, "\noutput,1,\"'=front, \"\"left\"\"\",1,0,-13.6,-1,209,1,crossover,high-pass,2913.3,"));
  g_assert_null(strstr(csv, "13.60000"));
}

/* The codes of a fixed-point format are those that the signal room rounds to, with the sign as written; a
 * format that a coefficient does not fit is refused with output and section. */
static void test_fixed(void)
{
  static const char *const formats[] = {"json", "csv", "tsv", "c"};
  const CwFixedFormat wide = {5, 23}, narrow = {1, 31};
  g_autoptr(CwTable) table = tuned_table(0);
  for (size_t f = 0; f < G_N_ELEMENTS(formats); f++)
    for (int plus = 0; plus < 2; plus++) {
      g_autofree char *text = written(table, formats[f], plus, &wide);
      const CwCoefficients *c = &table->outputs[0].sections[2].c;
      g_autofree char *a1 =
          g_strdup_printf("%" G_GINT64_FORMAT, cw_fixed_code(wide, (plus ? -1 : 1) * c->a[1], NULL));
      g_autofree char *b0 = g_strdup_printf("%" G_GINT64_FORMAT, cw_fixed_code(wide, c->b[0], NULL));
      g_assert_nonnull(strstr(text, a1));
      g_assert_nonnull(strstr(text, b0));
      g_autoptr(GError) error = NULL;
      g_assert_null(cw_table_write(table, formats[f], plus, &narrow, &error));
      g_assert_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_SECTION);
    }
}

/* C: arrays of five numbers a section that a compiler reads back as the same doubles; a channel without any
 * has one row of nothing. */
static void test_c(void)
{
  g_autoptr(CwTable) table = tuned_table(0);
  table->outputs[1].n_sections = 0;
  g_autofree char *text = written(table, "c", FALSE, NULL), *plus = written(table, "c", TRUE, NULL);
  const char *at = strstr(text, "static const double cabinwright_output_1[4][5] = {\n");
  g_assert_nonnull(at);
  at = strchr(at, '\n') + 1;
  for (guint s = 0; s < 4; s++) {
    const CwCoefficients *c = &table->outputs[0].sections[s].c;
    const double wanted[] = {c->b[0], c->b[1], c->b[2], c->a[1], c->a[2]};
    at = strchr(at, '{') + 1;
    for (int k = 0; k < 5; k++) {
      char *end;
      g_assert_cmpfloat(g_ascii_strtod(at, &end), ==, wanted[k]);
      at = end + 1;
    }
  }
  g_assert_nonnull(strstr(text, "cabinwright_output_9[1][5] = {\n  {0},\n};"));
  g_assert_nonnull(strstr(text, "- a1 y[n-1] - a2 y[n-2], sample rate 96000 Hz"));
  g_assert_nonnull(strstr(plus, "+ a1 y[n-1] + a2 y[n-2]"));
  g_assert_nonnull(strstr(text, "#include <stdint.h>"));
}

/* An unknown format, and the sum by which a table on paper is known again: that of the JSON at its own rate.
 */
static void test_format_and_sum(void)
{
  g_autoptr(CwTable) table = tuned_table(0);
  g_autoptr(CwRecord) vehicle = tuned_vehicle(TUNED_SECTION), other = tuned_vehicle(TUNED_SECTION);
  g_autoptr(GError) error = NULL;
  g_assert_null(cw_table_write(table, "xml", FALSE, NULL, &error));
  g_assert_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_FORMAT);
  g_autofree char *json = written(table, "json", FALSE, NULL);
  g_autofree char *wanted = g_compute_checksum_for_string(G_CHECKSUM_SHA256, json, -1);
  g_clear_error(&error);
  g_autofree char *sum = cw_table_checksum(vehicle, &error);
  g_assert_cmpstr(sum, ==, wanted);
  cw_tune_output_set_gain_db(cw_list_get(cw_tune_get_outputs(cw_vehicle_get_tune(other)), 0), -13.5);
  g_autofree char *changed = cw_table_checksum(other, &error);
  g_assert_cmpstr(changed, !=, sum);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/handover/table-text/json", test_json);
  g_test_add_func("/handover/table-text/separated", test_separated);
  g_test_add_func("/handover/table-text/fixed", test_fixed);
  g_test_add_func("/handover/table-text/c", test_c);
  g_test_add_func("/handover/table-text/format-and-sum", test_format_and_sum);
  return g_test_run();
}
