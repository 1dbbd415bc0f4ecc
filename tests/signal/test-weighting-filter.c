/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "band-mask.h"
#include "signal/filters/weighting_filter.h"

static const double rates_hz[] = {44100, 48000, 88200, 96000, 192000};

static double cascade_db(const CwCoefficients *cascade, size_t sections, double hz, double rate_hz)
{
  CwComplex response;
  cw_cascade_response(cascade, sections, rate_hz, &hz, 1, false, &response);
  return 20 * log10(cabs(response));
}

/* IEC 61672-1:2013 Table 3, class 1, about the exact weighting at the exact frequencies, and how near the
 * filters come. */
static void check_weighting(CwWeighting weighting, double rate_hz)
{
  const char *limits = "weight.class1_2013", *table = "weight.table",
             *column = weighting == CW_WEIGHTING_A ? "A exact" : "C exact";
  CwCoefficients cascade[CW_WEIGHTING_MOST_SECTIONS];
  size_t sections = cw_weighting_filter_design(weighting, rate_hz, cascade);
  double worst_db = 0, worst_audible_db = 0;

  g_assert_cmpuint(sections, ==, weighting == CW_WEIGHTING_A ? 3 : 2);
  for (size_t i = 0; i < sections; i++)
    g_assert_cmpfloat(cw_coefficients_pole_radius(&cascade[i]), <, 1);
  for (size_t i = 0; i < check_rows(limits); i++) {
    double hz = check_cell(table, i, "exact f");
    double off_db = cascade_db(cascade, sections, hz, rate_hz) - check_cell(table, i, column);
    check_below("above the upper limit, dB", off_db - check_cell(limits, i, "upper"), 0);
    check_below("below the lower limit, dB", check_cell(limits, i, "lower") - off_db, 0);
  }
  for (double hz = 10; hz < 20000; hz *= 1.01) {
    double exact_db = weighting == CW_WEIGHTING_A ? cw_weighting_a_db(hz) : cw_weighting_c_db(hz);
    double off_db = fabs(cascade_db(cascade, sections, hz, rate_hz) - exact_db);
    worst_db = fmax(worst_db, off_db);
    worst_audible_db = hz >= 31.5 && hz < 16000 ? fmax(worst_audible_db, off_db) : worst_audible_db;
  }
  g_test_message("%s at %g Hz: worst %.4f dB, 31.5 Hz to 16 kHz %.4f dB", column, rate_hz, worst_db,
                 worst_audible_db);
  check_below("deviation from 10 Hz to 20 kHz, dB", worst_db, 0.1);
}

static void test_weightings(void)
{
  CwCoefficients cascade[CW_WEIGHTING_MOST_SECTIONS];

  for (size_t i = 0; i < G_N_ELEMENTS(rates_hz); i++) {
    check_weighting(CW_WEIGHTING_A, rates_hz[i]);
    check_weighting(CW_WEIGHTING_C, rates_hz[i]);
  }
  for (double rate_hz = 44000; rate_hz < 60000; rate_hz += 500)
    check_weighting(CW_WEIGHTING_A, rate_hz);
  g_assert_cmpuint(cw_weighting_filter_design(CW_WEIGHTING_A, 32000, cascade), ==, 0);
}

static void test_poles(void)
{
  check_near_relative("weight.poles", cw_weighting_pole_hz(1), check_number("weight.poles", "f1"),
                      check_tolerance("weight.poles", "rel"));
  check_near_relative("weight.poles", cw_weighting_pole_hz(2), check_number("weight.poles", "f2"),
                      check_tolerance("weight.poles", "rel"));
  check_near_relative("weight.poles", cw_weighting_pole_hz(3), check_number("weight.poles", "f3"),
                      check_tolerance("weight.poles", "rel"));
  check_near_relative("weight.poles", cw_weighting_pole_hz(4), check_number("weight.poles", "f4"),
                      check_tolerance("weight.poles", "rel"));
}

static void test_mask_breakpoints(void)
{
  for (size_t i = 0; i < check_rows("mask.omega"); i++) {
    double exponent = check_cell("mask.omega", i, "e"),
           tolerance = check_tolerance("mask.omega", "abs") * fmax(1, exponent);
    check_near("mask.omega", mask_breakpoint(exponent, 1), check_cell("mask.omega", i, "b=1"), tolerance);
    check_near("mask.omega", mask_breakpoint(exponent, 3), check_cell("mask.omega", i, "b=3"), tolerance);
    check_near("mask.omega", mask_breakpoint(exponent, 6), check_cell("mask.omega", i, "b=6"), tolerance);
    check_near("mask.omega", mask_breakpoint(exponent, 12), check_cell("mask.omega", i, "b=12"), tolerance);
  }
}

static void check_band(const MaskPoint *points, int fraction, const CwBand *band, double rate_hz)
{
  CwCoefficients cascade[CW_BAND_FILTER_SECTIONS];

  g_assert_cmpuint(cw_band_filter_design(band, rate_hz, cascade), ==, CW_BAND_FILTER_SECTIONS);
  for (int k = 0; k < CW_BAND_FILTER_SECTIONS; k++)
    g_assert_cmpfloat(cw_coefficients_pole_radius(&cascade[k]), <, 1);
  for (double exponent = 0; exponent < 4.5; exponent += exponent < 0.6 ? 0.01 : 0.05)
    for (int side = -1; side <= 1; side += 2) {
      double ratio = mask_breakpoint(exponent, fraction), hz = band->centre_hz * pow(ratio, side), least,
             most;
      if (hz < 1 || hz > 0.499 * rate_hz || fabs(exponent - 0.5) < 1e-6)
        continue;
      double attenuation = -cascade_db(cascade, CW_BAND_FILTER_SECTIONS, hz, rate_hz);
      mask_at(points, fraction, ratio, &least, &most);
      if (attenuation < least || attenuation > most)
        g_error("1/%d octave at %g Hz, rate %g: %.2f dB at %g Hz (G^%+.2f) lies outside %.2f to %.2f",
                fraction, band->centre_hz, rate_hz, attenuation, hz, side * exponent, least, most);
    }
}

/* Every band of each width at each rate, from 20 Hz up to where a filter is offered. */
static void test_band_filters(void)
{
  static const int fractions[] = {1, 3, 6, 12, 24};
  MaskPoint points[10];

  mask_read(points);
  for (size_t f = 0; f < G_N_ELEMENTS(fractions); f++)
    for (size_t r = 0; r < G_N_ELEMENTS(rates_hz); r++) {
      CwBand bands[300];
      CwCoefficients none[CW_BAND_FILTER_SECTIONS];
      size_t count = cw_bands_within(fractions[f], 19.9, 20001, bands, G_N_ELEMENTS(bands)), offered = 0;
      for (size_t i = 0; i < count; i++) {
        if (bands[i].high_hz > 0.47 * rates_hz[r]) {
          g_assert_cmpuint(cw_band_filter_design(&bands[i], rates_hz[r], none), ==, 0);
          continue;
        }
        check_band(points, fractions[f], &bands[i], rates_hz[r]);
        offered++;
      }
      g_assert_cmpuint(offered, >=, rates_hz[r] < 48000 ? count - 4 : count);
    }
}

/* The attenuation of the order-4 Butterworth band-pass at a rate so high that the transform bends nothing:
 * mask.butterworth, N = 4. */
static void test_butterworth(void)
{
  static const char *const columns[] = {"1/8", "1/4", "3/8", "1/2", "1", "2", "3"};
  static const double exponents[] = {0.125, 0.25, 0.375, 0.5, 1, 2, 3};
  CwCoefficients cascade[CW_BAND_FILTER_SECTIONS];
  CwBand band = cw_band(3, 0);

  g_assert_cmpfloat(check_cell("mask.butterworth", 2, "N"), ==, 4);
  cw_band_filter_design(&band, 1e6, cascade);
  for (size_t i = 0; i < G_N_ELEMENTS(columns); i++) {
    double attenuation =
        -cascade_db(cascade, CW_BAND_FILTER_SECTIONS, 1000 * mask_breakpoint(exponents[i], 3), 1e6);
    check_near("mask.butterworth", attenuation, check_cell("mask.butterworth", 2, columns[i]), 0.01);
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/weighting-filter/poles", test_poles);
  g_test_add_func("/weighting-filter/class-1", test_weightings);
  g_test_add_func("/band-filter/breakpoints", test_mask_breakpoints);
  g_test_add_func("/band-filter/butterworth", test_butterworth);
  g_test_add_func("/band-filter/class-1", test_band_filters);
  return g_test_run();
}
