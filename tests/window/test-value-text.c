/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/kinds/kinds.h"
#include "window/state/length.h"
#include "window/state/settings.h"
#include "window/state/value_text.h"

#include <locale.h>
#include <math.h>

static const CwField *field_of(CwRecord *record, const char *key)
{
  const CwField *field = cw_record_find_field(record, key);
  g_assert_nonnull(field);
  return field;
}

static void assert_taken(CwRecord *record, const char *key, const char *text)
{
  g_autoptr(GError) error = NULL;
  g_assert_true(cw_value_from_text(record, field_of(record, key), text, &error));
  g_assert_no_error(error);
}

static void assert_refused(CwRecord *record, const char *key, const char *text, const char *reason)
{
  g_autoptr(GError) error = NULL;
  g_assert_false(cw_value_from_text(record, field_of(record, key), text, &error));
  g_assert_error(error, CW_RECORD_ERROR, CW_RECORD_ERROR_VALUE);
  g_assert_nonnull(strstr(error->message, reason));
}

static void test_numbers(void)
{
  g_autoptr(CwRecord) speaker = cw_record_new(cw_speaker_get_type());
  assert_taken(speaker, "lowest_hz", " 3150 ");
  g_assert_cmpfloat(cw_speaker_get_lowest_hz(speaker), ==, 3150);
  assert_taken(speaker, "nominal_ohm", "3,5");
  g_assert_cmpfloat(cw_speaker_get_nominal_ohm(speaker), ==, 3.5);
  assert_refused(speaker, "nominal_ohm", "four", "not a number");
  assert_refused(speaker, "nominal_ohm", "4 ohm", "not a number");
  assert_refused(speaker, "nominal_ohm", "1e400", "not a number");
  assert_refused(speaker, "nominal_ohm", "nan", "not a number");
  assert_refused(speaker, "nominal_ohm", "", "not a number");
  assert_refused(speaker, "lowest_hz", "4", "below 10");
  assert_refused(speaker, "output", "1.5", "whole");
  g_assert_cmpfloat(cw_speaker_get_nominal_ohm(speaker), ==, 3.5);
  assert_taken(speaker, "lowest_hz", "");
  g_assert_true(isnan(cw_speaker_get_lowest_hz(speaker)));
}

/* An inch is 25.4 mm by definition. What is kept is centimetres, whatever was typed. */
static void test_lengths(void)
{
  g_autoptr(CwRecord) speaker = cw_record_new(cw_speaker_get_type());
  const CwField *field = field_of(speaker, "x_cm");
  static const struct {
    const char *text;
    double cm;
  } typed[] = {{"98.5", 98.5}, {"10 in", 25.4},   {"10in", 25.4},
               {"10\"", 25.4}, {"10,5 ″", 26.67}, {"40 cm", 40}};
  for (guint i = 0; i < G_N_ELEMENTS(typed); i++) {
    assert_taken(speaker, "x_cm", typed[i].text);
    g_assert_cmpfloat_with_epsilon(cw_speaker_get_x_cm(speaker), typed[i].cm, 1e-12);
  }
  assert_refused(speaker, "x_cm", "10 ft", "not a number");
  assert_refused(speaker, "x_cm", "in", "not a number");
  assert_refused(speaker, "x_cm", "1000 in", "above");
  assert_refused(speaker, "lowest_hz", "100 in", "not a number");
  g_assert_nonnull(cw_settings_get());
  cw_settings_set_boolean("inches", TRUE);
  g_assert_cmpstr(cw_length_unit_of(field), ==, "in");
  assert_taken(speaker, "x_cm", "38.78");
  g_assert_cmpfloat_with_epsilon(cw_speaker_get_x_cm(speaker), 98.5012, 1e-9);
  cw_speaker_set_x_cm(speaker, 98.5);
  g_autofree char *shown = cw_value_to_text(speaker, field), *said = cw_length_say(98.5);
  g_assert_cmpstr(shown, ==, "38.78");
  g_assert_cmpstr(said, ==, "38.8 in");
  assert_taken(speaker, "x_cm", "98.5 cm");
  g_assert_cmpfloat(cw_speaker_get_x_cm(speaker), ==, 98.5);
  cw_settings_set_boolean("inches", FALSE);
}

static void test_lists(void)
{
  g_autoptr(CwRecord) vehicle = cw_record_new(cw_vehicle_get_type());
  CwRecord *processor = cw_vehicle_get_processor(vehicle);
  assert_taken(vehicle, "seats", "driver; passenger;  bench");
  g_assert_cmpstr(cw_vehicle_get_seats(vehicle)[2], ==, "bench");
  assert_taken(processor, "q", "0,5 12");
  g_assert_cmpfloat(cw_numbers_at(cw_processor_get_q(processor), 0, 0), ==, 0.5);
  assert_refused(processor, "q", "12 0.5", "does not rise");
  assert_refused(processor, "q", "1 2 3", "2 numbers are expected");
  assert_taken(vehicle, "target", "20 6\n1000 0\n20000 -5");
  g_assert_cmpuint(cw_vehicle_get_target(vehicle)->n_rows, ==, 3);
  assert_refused(vehicle, "target", "20 6\n10 0", "does not rise");
  assert_refused(vehicle, "target", "20 6 100", "whole rows");
  assert_refused(vehicle, "target", "20 600", "600");
}

/* What is shown can be typed again and gives the same, to the digits that are shown. */
static void test_round_trip(void)
{
  g_autoptr(CwRecord) section = cw_record_new(cw_tune_section_get_type());
  const double values[] = {20, 31.5, 1234.5678, 19999.9, 0.707107, 96000, 123456.7};
  for (guint i = 0; i < G_N_ELEMENTS(values); i++) {
    CwField field = {.key = "frequency_hz", .type = CW_FIELD_NUMBER};
    g_autofree char *text = cw_number_to_text(values[i]);
    double read;
    g_assert_true(cw_number_from_text(&field, text, &read, NULL));
    g_assert_cmpfloat(fabs(read / values[i] - 1), <, 1e-3);
    g_autofree char *again = cw_number_to_text(read);
    g_assert_cmpstr(again, ==, text);
  }
  const double shown[] = {2660.6703, 10854.727, 192000, 0.70710678, 124.99, 48123};
  const char *const texts[] = {"2660.7", "10855", "192000", "0.707", "124.99", "48123"};
  for (guint i = 0; i < G_N_ELEMENTS(shown); i++) {
    g_autofree char *text = cw_number_to_text(shown[i]);
    g_assert_cmpstr(text, ==, texts[i]);
  }
  assert_taken(section, "why", "  spaces around  ");
  g_assert_cmpstr(cw_tune_section_get_why(section), ==, "spaces around");
}

int main(int argc, char **argv)
{
  setlocale(LC_ALL, "C.UTF-8");
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/value-text/numbers", test_numbers);
  g_test_add_func("/value-text/lists", test_lists);
  g_test_add_func("/value-text/lengths", test_lengths);
  g_test_add_func("/value-text/round-trip", test_round_trip);
  return g_test_run();
}
