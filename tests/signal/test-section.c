/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cookbook.h"
#include "signal/fft.h"

static const double rates_hz[] = {44100, 48000, 96000, 192000};

static double db_at(const CwCoefficients *coefficients, double hz, double rate_hz)
{
  return 20 * log10(cabs(cw_coefficients_response(coefficients, hz, rate_hz)));
}

/* W3C Audio EQ Cookbook, by numpy. */
static void test_coefficients(void)
{
  const char *id = "cookbook.coef";
  double tolerance = check_tolerance(id, "abs");

  for (size_t i = 0; i < check_rows(id); i++) {
    CwCoefficients c;
    double rate_hz;
    CwSection section = cookbook_section(id, i, "given value", &rate_hz);
    g_assert_true(cw_section_design(&section, rate_hz, &c));
    check_near(id, c.b[0], check_cell(id, i, "b0"), tolerance);
    check_near(id, c.b[1], check_cell(id, i, "b1"), tolerance);
    check_near(id, c.b[2], check_cell(id, i, "b2"), tolerance);
    check_near(id, c.a[0], check_cell(id, i, "a0"), 0);
    check_near(id, c.a[1], check_cell(id, i, "a1"), tolerance);
    check_near(id, c.a[2], check_cell(id, i, "a2"), tolerance);
  }
}

/* How deep a zero comes out is a matter of rounding. */
static void check_db(const char *id, double got_db, double wanted_db, double tolerance)
{
  if (wanted_db < -150)
    check_below("a zero, dB", got_db, -150);
  else
    check_near(id, got_db, wanted_db, tolerance);
}

static void test_magnitudes(void)
{
  static const char *const columns[] = {"20 Hz",   "50 Hz",   "100 Hz",  "200 Hz",   "500 Hz",
                                        "1000 Hz", "2000 Hz", "5000 Hz", "10000 Hz", "20000 Hz"};
  const char *id = "cookbook.mag";
  double tolerance = check_tolerance(id, "abs");

  g_assert_cmpuint(check_rows(id), ==, check_rows("cookbook.coef"));
  for (size_t i = 0; i < check_rows(id); i++) {
    CwCoefficients c;
    double rate_hz;
    CwSection section = cookbook_section("cookbook.coef", i, "given value", &rate_hz);
    cw_section_design(&section, rate_hz, &c);
    for (size_t k = 0; k < G_N_ELEMENTS(columns); k++)
      check_db(id, db_at(&c, atof(columns[k]), rate_hz), check_cell(id, i, columns[k]), tolerance);
    if (section.kind == CW_SECTION_NOTCH) {
      check_db(id, db_at(&c, section.frequency_hz, rate_hz), -INFINITY, tolerance);
      continue;
    }
    check_near(id, db_at(&c, section.frequency_hz, rate_hz), check_cell(id, i, "at f0"), tolerance);
    double off = carg(cw_coefficients_response(&c, section.frequency_hz, rate_hz)) * 180 / G_PI -
                 check_cell(id, i, "phase at f0");
    check_near(id, remainder(off, 360), 0, tolerance);
  }
}

static void test_q_relations(void)
{
  for (size_t i = 0; i < check_rows("cookbook.bw_q"); i++) {
    double octaves = check_cell("cookbook.bw_q", i, "BW oct"),
           thirds = rint(octaves * 12) / 12; /* printed with ten digits */
    check_near_relative("cookbook.bw_q", cw_q_from_octaves(thirds), check_cell("cookbook.bw_q", i, "Q"),
                        check_tolerance("cookbook.bw_q", "rel"));
  }
  for (size_t i = 0; i < check_rows("cookbook.bw_q_digital"); i++) {
    double q = cw_q_from_octaves_at(rint(12 * check_cell("cookbook.bw_q_digital", i, "BW oct")) / 12,
                                    check_cell("cookbook.bw_q_digital", i, "f0"), 48000);
    check_near_relative("cookbook.bw_q_digital", q, check_cell("cookbook.bw_q_digital", i, "Q"),
                        check_tolerance("cookbook.bw_q_digital", "rel"));
  }
  for (size_t i = 0; i < check_rows("cookbook.s_q"); i++) {
    double q = cw_q_from_shelf_slope(check_cell("cookbook.s_q", i, "dB"), check_cell("cookbook.s_q", i, "S"));
    check_near_relative("cookbook.s_q", q, check_cell("cookbook.s_q", i, "Q"),
                        check_tolerance("cookbook.s_q", "rel"));
  }
}

static CwCoefficients design(CwSectionKind kind, double hz, double gain_db, double q, double rate_hz)
{
  CwCoefficients c;
  g_assert_true(cw_section_design(&(CwSection){kind, hz, gain_db, q}, rate_hz, &c));
  return c;
}

/* cookbook.identities, for random sections. */
static void test_identities(void)
{
  double tolerance = check_tolerance("cookbook.identities", "abs");
  const char *id = "cookbook.identities";

  for (int round = 0; round < 500; round++) {
    double rate = rates_hz[g_test_rand_int_range(0, G_N_ELEMENTS(rates_hz))],
           hz = 400 * pow(50, g_test_rand_double());
    double gain = g_test_rand_double_range(-15, 15), q = 0.3 * pow(30, g_test_rand_double()), top = rate / 2;
    double other = 400 * pow(50, g_test_rand_double());
    CwCoefficients c = design(CW_SECTION_PEAKING, hz, gain, q, rate),
                   undo = design(CW_SECTION_PEAKING, hz, -gain, q, rate);
    check_near(id, db_at(&c, hz, rate), gain, tolerance);
    check_near(id, db_at(&c, 0, rate), 0, tolerance);
    check_near(id, db_at(&c, top, rate), 0, tolerance);
    check_near(id, db_at(&c, other, rate) + db_at(&undo, other, rate), 0, tolerance);
    c = design(CW_SECTION_LOW_SHELF, hz, gain, q, rate);
    check_near(id, db_at(&c, 0, rate), gain, tolerance);
    check_near(id, db_at(&c, hz, rate), gain / 2, tolerance);
    check_near(id, db_at(&c, top, rate), 0, tolerance);
    c = design(CW_SECTION_HIGH_SHELF, hz, gain, q, rate);
    check_near(id, db_at(&c, 0, rate), 0, tolerance);
    check_near(id, db_at(&c, hz, rate), gain / 2, tolerance);
    check_near(id, db_at(&c, top, rate), gain, tolerance);
    c = design(CW_SECTION_LOW_PASS, hz, 0, q, rate);
    check_near(id, db_at(&c, hz, rate), 20 * log10(q), tolerance);
    c = design(CW_SECTION_HIGH_PASS, hz, 0, q, rate);
    check_near(id, db_at(&c, hz, rate), 20 * log10(q), tolerance);
    c = design(CW_SECTION_ALL_PASS, hz, 0, q, rate);
    check_near(id, db_at(&c, other, rate), 0, tolerance);
    check_near(id, creal(cw_coefficients_response(&c, hz, rate)), -1, tolerance);
    c = design(CW_SECTION_ALL_PASS_FIRST, hz, 0, q, rate);
    check_near(id, db_at(&c, other, rate), 0, tolerance);
    check_near(id, carg(cw_coefficients_response(&c, hz, rate)), -G_PI / 2, tolerance);
    c = design(CW_SECTION_NOTCH, hz, 0, q, rate);
    check_near(id, cabs(cw_coefficients_response(&c, hz, rate)), 0, tolerance);
    check_near(id, db_at(&c, 0, rate), 0, tolerance);
    c = design(CW_SECTION_LOW_PASS_FIRST, hz, 0, q, rate);
    check_near(id, db_at(&c, hz, rate), 10 * log10(0.5), tolerance);
  }
}

/* Running a cascade gives the response that is computed for it, whole or in pieces. */
static void test_running(void)
{
  const size_t count = 65536;
  double *whole = cw_alloc_real(count), *pieces = cw_alloc_real(count), state[6] = {0};
  CwComplex *bins = cw_alloc_complex(count / 2 + 1);
  CwCoefficients cascade[3];

  cascade[0] = design(CW_SECTION_PEAKING, 300, 5, 2, 48000);
  cascade[1] = design(CW_SECTION_HIGH_SHELF, 4000, -6, 0.7, 48000);
  cascade[2] = design(CW_SECTION_HIGH_PASS, 80, 0, 0.7, 48000);
  whole[0] = pieces[0] = 1;
  cw_cascade_run(cascade, 3, whole, count);
  for (size_t at = 0, step = 1; at < count; at += step, step = step % 700 + 13)
    cw_cascade_run_stream(cascade, 3, state, pieces + at, MIN(step, count - at));
  g_assert_cmpint(memcmp(whole, pieces, count * sizeof *whole), ==, 0);
  cw_fft_forward(cw_fft_get(count), whole, bins);
  for (size_t k = 1; k < count / 2; k += 97) {
    double hz = (double)k * 48000 / (double)count;
    CwComplex response, twice = 2;
    cw_cascade_response(cascade, 3, 48000, &hz, 1, false, &response);
    check_below("response of the run", cabs(bins[k] - response), 1e-12);
    cw_cascade_response(cascade, 3, 48000, &hz, 1, true, &twice);
    check_below("response multiplied in", cabs(twice - 2 * response), 1e-14);
  }
  cw_free(whole);
  cw_free(pieces);
  cw_free(bins);
}

static void test_refusals(void)
{
  const CwSection refused[] = {{CW_SECTION_PEAKING, 0, 3, 1},      {CW_SECTION_PEAKING, 24000, 3, 1},
                               {CW_SECTION_PEAKING, NAN, 3, 1},    {CW_SECTION_PEAKING, 1000, NAN, 1},
                               {CW_SECTION_PEAKING, 1000, 3, 0},   {CW_SECTION_PEAKING, 1000, 3, -1},
                               {CW_SECTION_PEAKING, 1000, 3, NAN}, {CW_SECTION_PEAKING, 1000, 3, INFINITY},
                               {CW_SECTION_LOW_PASS, -50, 0, 0.7}, {CW_SECTION_KINDS, 1000, 0, 1}};
  CwCoefficients c;

  for (size_t i = 0; i < G_N_ELEMENTS(refused); i++) {
    g_assert_false(cw_section_design(&refused[i], 48000, &c));
    g_assert_cmpfloat(cabs(cw_coefficients_response(&c, 777, 48000)), ==, 1);
  }
  for (int kind = 0; kind < CW_SECTION_KINDS; kind++)
    g_assert_cmpint(cw_section_kind_from_name(cw_section_kind_name((CwSectionKind)kind)), ==, kind);
  g_assert_cmpint(cw_section_kind_from_name("peaky"), ==, CW_SECTION_KINDS);
}

/* The pole radius tells how fast a section dies away. */
static void test_pole_radius(void)
{
  CwCoefficients two_real = {{1, 0, 0}, {1, -0.9 - 0.5, 0.9 * 0.5}},
                 pair = {{1, 0, 0}, {1, -2 * 0.97 * 0.3, 0.97 * 0.97}};
  CwCoefficients outside = {{1, 0, 0}, {1, -2.3, 1.3}};

  check_below("two real poles", fabs(cw_coefficients_pole_radius(&two_real) - 0.9), 1e-12);
  check_below("a pair of poles", fabs(cw_coefficients_pole_radius(&pair) - 0.97), 1e-12);
  g_assert_cmpfloat(cw_coefficients_pole_radius(&outside), >=, 1);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/section/coefficients", test_coefficients);
  g_test_add_func("/section/magnitudes", test_magnitudes);
  g_test_add_func("/section/q-relations", test_q_relations);
  g_test_add_func("/section/identities", test_identities);
  g_test_add_func("/section/running", test_running);
  g_test_add_func("/section/refusals", test_refusals);
  g_test_add_func("/section/pole-radius", test_pole_radius);
  return g_test_run();
}
