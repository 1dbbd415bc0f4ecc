/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuned.h"

#include "signal/filters/crossover.h"
#include <math.h>
#include <string.h>

static void check_same(const CwCoefficients *one, const CwCoefficients *other)
{
  for (int k = 0; k < 3; k++) {
    g_assert_cmpfloat(one->b[k], ==, other->b[k]);
    g_assert_cmpfloat(one->a[k], ==, other->a[k]);
  }
}

/* What the table holds is what the signal room designs for the same filters, at the tune's own rate and at
 * another: crossover first, the voicing last, what is bypassed not at all. */
static void test_sections(void)
{
  static const double rates[] = {96000, 48000, 44100};
  for (size_t r = 0; r < G_N_ELEMENTS(rates); r++) {
    g_autoptr(CwTable) table = tuned_table(rates[r]);
    const CwTableChannel *one = &table->outputs[0], *nine = &table->outputs[1], *input = &table->inputs[0];
    CwCoefficients crossover[CW_CROSSOVER_MOST_SECTIONS], c;
    CwSection peak = {CW_SECTION_PEAKING, 3406.2, -2.6, 1.307},
              voicing = {CW_SECTION_HIGH_SHELF, 9000, 1, 0.7}, shelf = {CW_SECTION_LOW_SHELF, 80, 2.5, 0.7};
    g_assert_cmpuint(table->n_outputs, ==, 2);
    g_assert_cmpuint(table->n_inputs, ==, 1);
    g_assert_cmpuint(one->n_sections, ==, 4);
    g_assert_cmpuint(
        cw_crossover_design(CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, 4, 2913.3, rates[r], crossover, NULL), ==,
        2);
    for (int k = 0; k < 2; k++) {
      check_same(&one->sections[k].c, &crossover[k]);
      g_assert_cmpint(one->sections[k].use, ==, CW_USE_CROSSOVER);
      g_assert_cmpstr(one->sections[k].kind, ==, "high-pass");
      g_assert_cmpfloat_with_epsilon(one->sections[k].q, M_SQRT1_2, 1e-12);
    }
    cw_section_design(&peak, rates[r], &c);
    check_same(&one->sections[2].c, &c);
    g_assert_cmpstr(one->sections[2].kind, ==, "peaking");
    cw_section_design(&voicing, rates[r], &c);
    check_same(&one->sections[3].c, &c);
    g_assert_cmpint(one->sections[3].use, ==, CW_USE_VOICING);
    g_assert_cmpuint(nine->n_sections, ==, 1);
    check_same(&nine->sections[0].c, &c);
    g_assert_cmpuint(input->n_sections, ==, 1); /* no voicing on inputs */
    cw_section_design(&shelf, rates[r], &c);
    check_same(&input->sections[0].c, &c);
  }
}

/* Gains, polarity, mix; a delay in samples is brought to the nearest of another rate. */
static void test_channels(void)
{
  g_autoptr(CwTable) own = tuned_table(0), half = tuned_table(48000), odd = tuned_table(44100);
  g_assert_cmpfloat(own->rate_hz, ==, 96000);
  g_assert_cmpfloat(own->outputs[0].delay_samples, ==, 209);
  g_assert_cmpfloat(half->outputs[0].delay_samples, ==, rint(209 * 0.5));
  g_assert_cmpfloat(odd->outputs[0].delay_samples, ==, rint(209 * 44100.0 / 96000));
  g_assert_cmpfloat(own->outputs[0].gain_db, ==, -13.6);
  g_assert_true(own->outputs[0].inverted);
  g_assert_false(own->outputs[1].inverted);
  g_assert_cmpstr(own->outputs[1].name, ==, "subwoofer");
  g_assert_cmpint(own->outputs[1].number, ==, 9);
  g_assert_cmpfloat(own->outputs[1].left, ==, 0.5);
  g_assert_cmpint(own->inputs[0].number, ==, 2);
  g_assert_cmpfloat(own->inputs[0].right, ==, 1);
  g_assert_cmpfloat(own->inputs[0].gain_db, ==, -1.5);
}

/* No tune, a rate that no processor has, a section that cannot be at a rate: each told with its place. */
static void test_refused(void)
{
  static const double rates[] = {100, 1e6, NAN};
  g_autoptr(CwRecord) empty = cw_record_new(cw_vehicle_get_type()), vehicle = tuned_vehicle(TUNED_SECTION);
  g_autoptr(GError) error = NULL;
  g_assert_null(cw_table_new(empty, 48000, &error));
  g_assert_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_NO_TUNE);
  g_clear_error(&error);
  g_assert_null(cw_table_checksum(empty, &error));
  g_assert_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_NO_TUNE);
  for (size_t k = 0; k < G_N_ELEMENTS(rates); k++) {
    g_clear_error(&error);
    g_assert_null(cw_table_new(vehicle, rates[k], &error));
    g_assert_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_FORMAT);
  }
  g_clear_error(&error);
  g_assert_null(cw_table_new(vehicle, 8000, &error)); /* 4 kHz is its end: the voicing's 9 kHz cannot be */
  g_assert_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_SECTION);
  g_assert_nonnull(strstr(error->message, "voicing of output 1, section 1"));
  g_clear_error(&error);
  g_autoptr(CwRecord) high = tuned_vehicle(
      "{\"use\":\"correction\",\"kind\":\"peaking\",\"frequency_hz\":19900,\"gain_db\":1,\"q\":1}");
  g_assert_null(cw_table_new(high, 32000, &error));
  g_assert_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_SECTION);
  g_assert_nonnull(strstr(error->message, "output 1, section 2"));
  cw_table_free(NULL);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/handover/table/sections", test_sections);
  g_test_add_func("/handover/table/channels", test_channels);
  g_test_add_func("/handover/table/refused", test_refused);
  return g_test_run();
}
