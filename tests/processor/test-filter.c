/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Properties of the one model of a filter: no source but the definitions in the headers. */
#include "processor/filter.h"

#include <math.h>

#define RATE_HZ 48000.0

/* A kind that was added to the enum alone is found here: without a name, a design or a word for the screen.
 */
static void test_every_kind_is_whole(void)
{
  g_autoptr(CwRecord) record = cw_record_new(cw_tune_section_get_type());
  const CwField *field = cw_record_get_field_at(record, CW_TUNE_SECTION_FIELD_KIND);
  for (int kind = 0; kind < CW_SECTION_KINDS; kind++) {
    CwSection section = {(CwSectionKind)kind, 1000, 3, 1};
    CwCoefficients c;
    g_assert_nonnull(cw_section_kind_name(section.kind));
    g_assert_cmpint(cw_section_kind_from_name(cw_section_kind_name(section.kind)), ==, kind);
    g_assert_true(cw_section_design(&section, RATE_HZ, &c));
    g_assert_cmpfloat(cw_coefficients_pole_radius(&c), <, 1);
    if (kind < CW_SECTION_KINDS_OFFERED)
      g_assert_cmpstr(field->choices[kind].word, ==, cw_section_kind_name(section.kind));
  }
  g_assert_null(field->choices[CW_SECTION_KINDS_OFFERED].word);
}

static void test_every_family_has_its_word(void)
{
  g_autoptr(CwRecord) record = cw_record_new(cw_tune_section_get_type());
  const CwField *field = cw_record_get_field_at(record, CW_TUNE_SECTION_FIELD_FAMILY);
  for (int family = 0; field->choices[family].word; family++)
    g_assert_cmpstr(field->choices[family].word, ==, cw_filter_family_name((CwFilterFamily)family));
}

/* What is written into a record comes back, for every kind. */
static void test_round_trip(void)
{
  for (int kind = 0; kind < CW_SECTION_KINDS_OFFERED; kind++) {
    g_autoptr(CwRecord) section = cw_record_new(cw_tune_section_get_type());
    gboolean pass = kind == CW_SECTION_LOW_PASS || kind == CW_SECTION_HIGH_PASS;
    CwFilter filter = {.use = pass ? CW_USE_CROSSOVER : CW_USE_VOICING,
                       .kind = (CwSectionKind)kind,
                       .has_family = pass,
                       .family = CW_FILTER_BESSEL,
                       .order = 3,
                       .frequency_hz = 1234.5,
                       .gain_db = -2.5,
                       .q = 0.9,
                       .bypass = true},
             back;
    cw_filter_write(&filter, section);
    back = cw_filter_read(section);
    g_assert_cmpint(back.use, ==, filter.use);
    g_assert_cmpint(back.kind, ==, kind);
    g_assert_cmpfloat(back.frequency_hz, ==, filter.frequency_hz);
    g_assert_true(back.bypass);
    g_assert_cmpint(back.has_family, ==, pass);
    if (pass)
      g_assert_true(back.family == CW_FILTER_BESSEL && back.order == 3);
    else
      g_assert_cmpfloat(back.q, ==, filter.q);
    if (cw_section_kind_has_gain(filter.kind))
      g_assert_cmpfloat(back.gain_db, ==, filter.gain_db);
  }
}

/* The sections of an expanded filter multiply to what they say they are. */
static void test_expansion_is_what_it_says(void)
{
  for (int kind = 0; kind < CW_SECTION_KINDS_OFFERED; kind++)
    for (int order = 1; order <= 8; order++) {
      CwFilter filter = {.kind = (CwSectionKind)kind,
                         .has_family = order > 1,
                         .family = CW_FILTER_BUTTERWORTH,
                         .order = order,
                         .frequency_hz = 700,
                         .gain_db = 4,
                         .q = 1.3};
      CwCoefficients made[CW_CROSSOVER_MOST_SECTIONS], again;
      CwSection described[CW_CROSSOVER_MOST_SECTIONS];
      gsize count = cw_filter_expand(&filter, RATE_HZ, made, described);
      gboolean pass = kind == CW_SECTION_LOW_PASS || kind == CW_SECTION_HIGH_PASS;
      g_assert_cmpuint(count, ==, pass ? (gsize)(order + 1) / 2 : 1);
      for (gsize k = 0; k < count; k++) {
        g_assert_true(cw_section_design(&described[k], RATE_HZ, &again));
        g_assert_cmpfloat(cabs(cw_coefficients_response(&made[k], 500, RATE_HZ) -
                               cw_coefficients_response(&again, 500, RATE_HZ)),
                          <, 1e-9);
      }
    }
}

static void test_impossible_is_refused(void)
{
  CwFilter filter = {.kind = CW_SECTION_PEAKING, .frequency_hz = 30000, .gain_db = 3, .q = 1};
  CwCoefficients made[CW_CROSSOVER_MOST_SECTIONS];
  g_autoptr(GError) error = NULL;
  g_assert_cmpuint(cw_filter_expand(&filter, RATE_HZ, made, NULL), ==, 0);
  g_assert_false(cw_filter_refuse(&filter, RATE_HZ, &error));
  g_assert_error(error, CW_FILTER_ERROR, CW_FILTER_ERROR_IMPOSSIBLE);
  g_assert_nonnull(strstr(error->message, "30000"));
}

static void test_brought_to_a_processor(void)
{
  CwLimits limits = cw_limits_wide(RATE_HZ);
  CwFilter filter = {.kind = CW_SECTION_PEAKING, .frequency_hz = 1100, .gain_db = -3.3, .q = 40},
           shelf = filter;
  limits.frequency_steps_per_octave = 3;
  limits.gain_step_db = 0.5;
  g_assert_true(cw_filter_bring_to(&limits, &filter));
  g_assert_cmpfloat_with_epsilon(filter.frequency_hz, 1000, 1e-9);
  g_assert_cmpfloat(filter.gain_db, ==, -3.5);
  g_assert_cmpfloat(filter.q, ==, 10);
  shelf.kind = CW_SECTION_LOW_SHELF;
  limits.shelves = false;
  g_assert_false(cw_filter_bring_to(&limits, &shelf));
  g_assert_cmpfloat(shelf.frequency_hz, ==, 1100);
  filter.gain_db = 20;
  g_assert_false(cw_filter_bring_to(&limits, &filter));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/processor/filter/every-kind-is-whole", test_every_kind_is_whole);
  g_test_add_func("/processor/filter/every-family-has-its-word", test_every_family_has_its_word);
  g_test_add_func("/processor/filter/round-trip", test_round_trip);
  g_test_add_func("/processor/filter/expansion", test_expansion_is_what_it_says);
  g_test_add_func("/processor/filter/impossible", test_impossible_is_refused);
  g_test_add_func("/processor/filter/brought-to-a-processor", test_brought_to_a_processor);
  return g_test_run();
}
