/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cookbook.h"
#include "signal/filters/fixed_point.h"

static CwFixedFormat format_of(const char *text)
{
  CwFixedFormat format = {0, 0};
  g_assert_true(cw_fixed_format_parse(text, &format));
  return format;
}

static void test_parse(void)
{
  static const char *const refused[] = {"",     "Q",    "5",     "5.",   ".23",   "0.23",   "9.23",
                                        "1.14", "8.25", "2.31x", "1.32", "-1.23", "5.23.1", "1.9999"};
  CwFixedFormat format = {3, 20};

  for (size_t i = 0; i < G_N_ELEMENTS(refused); i++)
    g_assert_false(cw_fixed_format_parse(refused[i], &format));
  g_assert_cmpint(format.integer_bits, ==, 3);
  format = format_of("1.15");
  g_assert_cmpint(cw_fixed_format_bits(format), ==, 16);
  format = format_of("Q8.24");
  g_assert_cmpint(cw_fixed_format_bits(format), ==, 32);
}

static void test_range(void)
{
  const char *id = "fix.range";

  for (size_t i = 0; i < check_rows(id); i++) {
    CwFixedFormat format = format_of(check_text(id, i, "format"));
    bool saturated;
    g_assert_cmpint(cw_fixed_format_bits(format), ==, (int)check_cell(id, i, "bits"));
    g_assert_cmpint(format.fraction_bits, ==, (int)check_cell(id, i, "frac bits"));
    check_near(id, cw_fixed_value(format, cw_fixed_code(format, -1e9, &saturated)), check_cell(id, i, "min"),
               0);
    g_assert_true(saturated);
    check_near(id, cw_fixed_value(format, cw_fixed_code(format, 1e9, &saturated)), check_cell(id, i, "max"),
               0);
    g_assert_true(saturated);
    check_near(id, cw_fixed_value(format, 1), check_cell(id, i, "LSB"), 0);
  }
}

static void test_codes(void)
{
  const char *id = "fix.codes";

  for (size_t i = 0; i < check_rows(id); i++) {
    CwFixedFormat format = format_of(check_text(id, i, "format"));
    bool saturated;
    int64_t code = cw_fixed_code(format, check_cell(id, i, "x"), &saturated);
    char hex[9];
    cw_fixed_hex(format, code, hex, sizeof hex);
    g_assert_cmpint(code, ==, (int64_t)check_cell(id, i, "int"));
    g_assert_cmpstr(hex, ==, check_text(id, i, "hex"));
    check_near(id, cw_fixed_value(format, code), check_cell(id, i, "read back"), 0);
    g_assert_cmpint(saturated, ==, check_flag(id, i, "saturated"));
  }
}

/* Halves go away from zero: the first of the ways that fix.ties lists. */
static void test_ties(void)
{
  CwFixedFormat format = format_of("5.23");
  g_assert_cmpint(cw_fixed_code(format, ldexp(2.5, -23), NULL), ==, (int)check_number("fix.ties", "away.0"));
  g_assert_cmpint(cw_fixed_code(format, ldexp(-2.5, -23), NULL), ==, (int)check_number("fix.ties", "away.1"));
}

/* Codes and worst errors of seven sections in four formats: fix.biquad_codes, fix.biquad_error (numpy). */
static void test_sections(void)
{
  const char *codes = "fix.biquad_codes", *errors = "fix.biquad_error";
  double tolerance = check_tolerance(errors, "rel");

  g_assert_cmpuint(check_rows(codes), ==, check_rows(errors));
  for (size_t i = 0; i < check_rows(errors); i++) {
    double rate_hz;
    CwSection section = cookbook_section(errors, i, "value", &rate_hz);
    CwFixedFormat format = format_of(check_text(errors, i, "format"));
    CwCoefficients coefficients;
    CwFixedSection fixed;

    g_assert_true(cw_section_design(&section, rate_hz, &coefficients));
    g_assert_cmpint(cw_fixed_section(format, &coefficients, rate_hz, &fixed), ==, CW_FIXED_FITS);
    g_assert_cmpint(fixed.b[0], ==, (int64_t)check_cell(codes, i, "b0"));
    g_assert_cmpint(fixed.b[1], ==, (int64_t)check_cell(codes, i, "b1"));
    g_assert_cmpint(fixed.b[2], ==, (int64_t)check_cell(codes, i, "b2"));
    g_assert_cmpint(fixed.a[1], ==, (int64_t)check_cell(codes, i, "a1"));
    g_assert_cmpint(fixed.a[2], ==, (int64_t)check_cell(codes, i, "a2"));
    check_near_relative(errors, fixed.worst_error_db, check_cell(errors, i, "max err dB"), tolerance);
    g_assert_cmpint(fixed.pole_radius < 1, ==, check_flag(errors, i, "stable"));
    double at_0_hz = cabs(cw_coefficients_response(&fixed.read_back, 0, rate_hz)),
           expected_db = check_cell(errors, i, "DC dB");
    if (isinf(expected_db))
      g_assert_cmpfloat(at_0_hz, ==, 0);
    else
      check_near(errors, 20 * log10(at_0_hz), expected_db, 0.01 * fabs(expected_db) + 1e-6);
    g_assert_cmpstr(fixed.advice, ==, "");
  }
}

static void test_refusals(void)
{
  CwSection boost = {CW_SECTION_PEAKING, 1000, 12, 0.5}, deep = {CW_SECTION_HIGH_PASS, 20, 0, 0.70710678};
  CwCoefficients coefficients, unstable = {{1, 0, 0}, {1, -2.1, 1.2}},
                               edge = {{0.5, 0, 0}, {1, -1.99, 0.9999999}};
  CwFixedSection fixed;

  /* The poles of any low-frequency section need two bits before the point. */
  cw_section_design(&deep, 48000, &coefficients);
  g_assert_cmpint(cw_fixed_section(format_of("1.23"), &coefficients, 48000, &fixed), ==, CW_FIXED_RANGE);
  g_assert_nonnull(strstr(fixed.advice, "2 bits before the point"));
  /* A boost whose numerator alone is too large is to be scaled. */
  boost.gain_db = 20;
  boost.frequency_hz = 8000;
  cw_section_design(&boost, 48000, &coefficients);
  g_assert_cmpfloat(coefficients.b[0], >, 2);
  g_assert_cmpint(cw_fixed_section(format_of("2.30"), &coefficients, 48000, &fixed), ==, CW_FIXED_RANGE);
  g_assert_nonnull(strstr(fixed.advice, "scale b0, b1 and b2"));
  for (int i = 0; i < 3; i++)
    coefficients.b[i] *= fixed.numerator_scale;
  g_assert_cmpint(cw_fixed_section(format_of("2.30"), &coefficients, 48000, &fixed), ==, CW_FIXED_FITS);
  /* Unstable before, and made so by rounding: 0.9999999 in 15 bits is 1. */
  g_assert_cmpint(cw_fixed_section(format_of("5.23"), &unstable, 48000, &fixed), ==,
                  CW_FIXED_UNSTABLE_BEFORE);
  g_assert_cmpint(cw_fixed_section(format_of("5.15"), &edge, 48000, &fixed), ==, CW_FIXED_UNSTABLE);
  g_assert_nonnull(strstr(fixed.advice, "unstable"));
  g_assert_true(isinf(fixed.worst_error_db));
  coefficients.b[1] = NAN;
  g_assert_cmpint(cw_fixed_section(format_of("5.23"), &coefficients, 48000, &fixed), ==, CW_FIXED_RANGE);
}

/* Whatever the section, a code read back is within half a step, and more bits never mean a larger worst step.
 */
static void test_half_step(void)
{
  for (int i = 0; i < 2000; i++) {
    CwFixedFormat format = {g_test_rand_int_range(1, 9), g_test_rand_int_range(15, 25)};
    double value = g_test_rand_double_range(-ldexp(1, format.integer_bits - 1),
                                            ldexp(1, format.integer_bits - 1) - ldexp(1, -14));
    bool saturated;
    double back = cw_fixed_value(format, cw_fixed_code(format, value, &saturated));
    if (!cw_fixed_format_valid(format))
      continue;
    g_assert_false(saturated);
    g_assert_cmpfloat(fabs(back - value), <=, ldexp(0.5, -format.fraction_bits));
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/fixed-point/parse", test_parse);
  g_test_add_func("/fixed-point/range", test_range);
  g_test_add_func("/fixed-point/codes", test_codes);
  g_test_add_func("/fixed-point/ties", test_ties);
  g_test_add_func("/fixed-point/sections", test_sections);
  g_test_add_func("/fixed-point/refusals", test_refusals);
  g_test_add_func("/fixed-point/half-step", test_half_step);
  return g_test_run();
}
