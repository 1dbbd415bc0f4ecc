/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/filters/crossover.h"
#include <stdlib.h>
#include <string.h>

typedef struct {
  CwCoefficients cascade[CW_CROSSOVER_MOST_SECTIONS];
  CwSection sections[CW_CROSSOVER_MOST_SECTIONS];
  size_t count;
  double rate_hz;
} Filter;

static Filter design(CwFilterFamily family, CwPass pass, int order, double corner_hz, double rate_hz)
{
  Filter filter = {.rate_hz = rate_hz};
  filter.count =
      cw_crossover_design(family, pass, order, corner_hz, rate_hz, filter.cascade, filter.sections);
  g_assert_cmpuint(filter.count, ==, (size_t)(order + 1) / 2);
  return filter;
}

static CwComplex response(const Filter *filter, double hz)
{
  CwComplex value;
  cw_cascade_response(filter->cascade, filter->count, filter->rate_hz, &hz, 1, false, &value);
  return value;
}

static double db_at(const Filter *filter, double hz)
{
  return 20 * log10(cabs(response(filter, hz)));
}

/* Group delay of sections by the exact formula: the derivative of each polynomial over itself. */
static double group_delay_ms(const Filter *filter, double hz)
{
  double w = 2 * G_PI * hz / filter->rate_hz, samples = 0;
  CwComplex z1 = cexp(-I * w), z2 = z1 * z1;

  for (size_t k = 0; k < filter->count; k++) {
    const CwCoefficients *c = &filter->cascade[k];
    samples += creal((c->b[1] * z1 + 2 * c->b[2] * z2) / (c->b[0] + c->b[1] * z1 + c->b[2] * z2));
    samples -= creal((c->a[1] * z1 + 2 * c->a[2] * z2) / (1 + c->a[1] * z1 + c->a[2] * z2));
  }
  return 1000 * samples / filter->rate_hz;
}

static CwFilterFamily family_of(const char *name, int *order)
{
  static const struct {
    const char *prefix;
    CwFilterFamily family;
  } families[] = {{"BW", CW_FILTER_BUTTERWORTH}, {"LR", CW_FILTER_LINKWITZ_RILEY}, {"BES", CW_FILTER_BESSEL}};

  for (size_t i = 0; i < G_N_ELEMENTS(families); i++)
    if (g_str_has_prefix(name, families[i].prefix)) {
      *order = atoi(name + strlen(families[i].prefix));
      return families[i].family;
    }
  g_error("unknown filter '%s'", name);
}

/* scipy.signal.butter and bessel(norm='mag'), sosfreqz. */
static void test_magnitudes(void)
{
  static const char *const low[] = {"LP fc/4", "LP fc/2", "LP fc", "LP 2fc", "LP 4fc"};
  static const char *const high[] = {"HP fc/4", "HP fc/2", "HP fc", "HP 2fc", "HP 4fc"};
  const char *id = "xo.mag";
  double tolerance = check_tolerance(id, "abs");

  for (size_t i = 0; i < check_rows(id); i++) {
    int order;
    CwFilterFamily family = family_of(check_text(id, i, "filter"), &order);
    double corner = check_cell(id, i, "fc"), rate = check_cell(id, i, "fs");
    Filter low_pass = design(family, CW_LOW_PASS, order, corner, rate),
           high_pass = design(family, CW_HIGH_PASS, order, corner, rate);
    for (int k = 0; k < 5; k++) {
      check_near(id, db_at(&low_pass, corner * exp2(k - 2)), check_cell(id, i, low[k]), tolerance);
      check_near(id, db_at(&high_pass, corner * exp2(k - 2)), check_cell(id, i, high[k]), tolerance);
    }
    check_near(id, group_delay_ms(&low_pass, corner / 20), check_cell(id, i, "gd ms @fc/20"), tolerance);
  }
}

static void test_bessel_digital(void)
{
  const char *id =
      "xo.bessel_digital"; /* "fc" heads both the corner and the level at it: levels start at place 4 */
  double tolerance = check_tolerance(id, "abs");

  for (size_t i = 0; i < check_rows(id); i++) {
    gboolean delay = strcmp(check_text(id, i, "norm"), "delay") == 0;
    double corner = check_cell(id, i, "fc");
    Filter filter = design(delay ? CW_FILTER_BESSEL_DELAY : CW_FILTER_BESSEL_PHASE, CW_LOW_PASS,
                           (int)check_cell(id, i, "n"), corner, check_cell(id, i, "fs"));
    for (int k = 0; k < 5; k++)
      check_near(id, db_at(&filter, corner * exp2(k - 2)), check_cell_at(id, i, (size_t)k + 4), tolerance);
    check_near(id, group_delay_ms(&filter, corner / 20), check_cell(id, i, "gd ms"), tolerance);
  }
}

static int compare_numbers(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* Q of the second-order sections, rising; returns how many. */
static size_t q_list(const Filter *filter, double *q)
{
  size_t count = 0;
  for (size_t i = 0; i < filter->count; i++)
    if (cw_section_kind_has_q(filter->sections[i].kind))
      q[count++] = filter->sections[i].q;
  qsort(q, count, sizeof *q, compare_numbers);
  return count;
}

static void test_q(void)
{
  double q[CW_CROSSOVER_MOST_SECTIONS], tolerance = check_tolerance("xo.bw_q", "rel");

  for (size_t i = 0; i < check_rows("xo.bw_q"); i++) {
    int order = (int)check_cell("xo.bw_q", i, "n");
    Filter filter = design(CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, order, 500, 48000);
    size_t count = q_list(&filter, q);
    g_assert_cmpuint(count, ==, check_cell_items("xo.bw_q", i, "Q list"));
    g_assert_cmpuint(filter.count - count, ==, (size_t)check_cell("xo.bw_q", i, "first-order"));
    for (size_t k = 0; k < count; k++)
      check_near_relative("xo.bw_q", q[k], check_cell_item("xo.bw_q", i, "Q list", k), tolerance);
  }
  for (int order = 2; order <= 8; order *= 2) {
    Filter filter = design(CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, order, 500, 48000);
    size_t count = q_list(&filter, q);
    for (size_t k = 0; k < count; k++) {
      char *key = g_strdup_printf("LR%d.%zu", order, k);
      check_near_relative("xo.lr_q", q[k], check_number("xo.lr_q", key), check_tolerance("xo.lr_q", "rel"));
      g_free(key);
    }
  }
}

/* Where the bilinear transform puts a frequency of the analogue prototype, told as a part of its corner, and
 * back. */
static double warped_hz(double part)
{
  return atan(part * tan(G_PI * 2500 / 48000)) * 48000 / G_PI;
}

static double unwarped(double hz)
{
  return tan(G_PI * hz / 48000) / tan(G_PI * 2500 / 48000);
}

/* The analogue prototypes, seen through the transform. */
static void test_bessel_analogue(void)
{
  static const char *const columns[] = {".25", ".5", "1", "2", "4"};
  const char *id = "xo.bessel_analog";
  double q[CW_CROSSOVER_MOST_SECTIONS], tolerance = check_tolerance(id, "abs");

  for (size_t i = 0; i < check_rows(id); i++) {
    const char *norm = check_text(id, i, "norm");
    CwFilterFamily family = strcmp(norm, "mag") == 0     ? CW_FILTER_BESSEL
                            : strcmp(norm, "phase") == 0 ? CW_FILTER_BESSEL_PHASE
                                                         : CW_FILTER_BESSEL_DELAY;
    Filter filter = design(family, CW_LOW_PASS, (int)check_cell(id, i, "n"), 2500, 48000);
    size_t count = q_list(&filter, q);
    for (int k = 0; k < 5; k++)
      check_near(id, db_at(&filter, warped_hz(exp2(k - 2))), check_cell(id, i, columns[k]), tolerance);
    g_assert_cmpuint(count, ==, check_cell_items(id, i, "Q"));
    for (size_t k = 0; k < count; k++)
      check_near(id, q[k], check_cell_item(id, i, "Q", k), tolerance);
    double own[CW_CROSSOVER_MOST_SECTIONS];
    for (size_t k = 0; k < filter.count; k++)
      own[k] = unwarped(filter.sections[k].frequency_hz);
    qsort(own, filter.count, sizeof *own, compare_numbers);
    for (size_t k = 0; k < filter.count; k++)
      check_near(id, own[k], check_cell_item(id, i, "w0 list", k), tolerance);
  }
}

static void test_bessel_half_power(void)
{
  for (size_t i = 0; i < check_rows("xo.bessel_f3"); i++) {
    Filter filter =
        design(CW_FILTER_BESSEL_DELAY, CW_LOW_PASS, (int)check_cell("xo.bessel_f3", i, "n"), 2500, 48000);
    double low = 1, high = 3;
    for (int k = 0; k < 60; k++) {
      double middle = 0.5 * (low + high);
      if (db_at(&filter, warped_hz(middle)) > 10 * log10(0.5))
        low = middle;
      else
        high = middle;
    }
    check_near("xo.bessel_f3", low, check_cell("xo.bessel_f3", i, "w3dB"),
               check_tolerance("xo.bessel_f3", "abs"));
  }
}

static const CwCoefficients *find_section(const Filter *filter, double q)
{
  for (size_t i = 0; i < filter->count; i++)
    if (fabs(filter->sections[i].q - q) < 1e-9)
      return &filter->cascade[i];
  g_error("no section of Q %g", q);
}

static void test_coefficients(void)
{
  double tolerance = check_tolerance("xo.sections", "abs");

  for (size_t i = 0; i < check_rows("xo.sections"); i++) {
    int order;
    CwFilterFamily family = family_of(check_text("xo.sections", i, "filter"), &order);
    CwPass pass = strcmp(check_text("xo.sections", i, "type"), "lowpass") == 0 ? CW_LOW_PASS : CW_HIGH_PASS;
    Filter filter =
        design(family, pass, order, check_cell("xo.sections", i, "fc"), check_cell("xo.sections", i, "fs"));
    const CwCoefficients *c = find_section(&filter, check_cell("xo.sections", i, "Q"));
    check_near("xo.sections", c->b[0], check_cell("xo.sections", i, "b0"), tolerance);
    check_near("xo.sections", c->b[1], check_cell("xo.sections", i, "b1"), tolerance);
    check_near("xo.sections", c->b[2], check_cell("xo.sections", i, "b2"), tolerance);
    check_near("xo.sections", c->a[1], check_cell("xo.sections", i, "a1"), tolerance);
    check_near("xo.sections", c->a[2], check_cell("xo.sections", i, "a2"), tolerance);
  }
  tolerance = check_tolerance("xo.first_order", "abs");
  for (size_t i = 0; i < check_rows("xo.first_order"); i++) {
    CwPass pass = strcmp(check_text("xo.first_order", i, "type"), "LP") == 0 ? CW_LOW_PASS : CW_HIGH_PASS;
    Filter filter = design(CW_FILTER_BUTTERWORTH, pass, 1, check_cell("xo.first_order", i, "fc"),
                           check_cell("xo.first_order", i, "fs"));
    check_near("xo.first_order", filter.cascade[0].b[0], check_cell("xo.first_order", i, "b0"), tolerance);
    check_near("xo.first_order", filter.cascade[0].b[1], check_cell("xo.first_order", i, "b1"), tolerance);
    check_near("xo.first_order", filter.cascade[0].a[1], check_cell("xo.first_order", i, "a1"), tolerance);
  }
}

/* What sections say they are is what they do: designed again from kind, frequency and Q they are the same. */
static void test_sections_told(void)
{
  for (int family = 0; family < CW_FILTER_FAMILIES; family++)
    for (int order = 1; order <= 8; order++)
      for (int pass = CW_LOW_PASS; pass <= CW_HIGH_PASS; pass++) {
        if (family == CW_FILTER_LINKWITZ_RILEY && order % 2)
          continue;
        Filter filter = design((CwFilterFamily)family, (CwPass)pass, order, 2500, 48000);
        for (size_t i = 0; i < filter.count; i++) {
          CwCoefficients again;
          g_assert_true(cw_section_design(&filter.sections[i], 48000, &again));
          for (int k = 0; k < 3; k++) {
            check_below("b designed again", fabs(again.b[k] - filter.cascade[i].b[k]), 1e-13);
            check_below("a designed again", fabs(again.a[k] - filter.cascade[i].a[k]), 1e-13);
          }
        }
      }
}

static double sum_db(const Filter *low, const Filter *high, double sign, double hz)
{
  return 20 * log10(cabs(response(low, hz) + sign * response(high, hz)));
}

static void test_linkwitz_riley_sums(void)
{
  const char *id = "xo.lr_sum";
  double tolerance = check_tolerance(id, "abs");

  for (size_t i = 0; i < check_rows(id); i++) {
    const char *sum = check_text(id, i, "sum");
    double sign = strstr(sum, "inverted") ? -1 : 1, corner = check_cell(id, i, "fc"),
           rate = check_cell(id, i, "fs");
    int order = atoi(sum + 2);
    Filter low = design(CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, order, corner, rate);
    Filter high = design(CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, order, corner, rate);
    if (isnan(check_cell(id, i, "expected dB"))) {
      check_below("null at the corner, dB", sum_db(&low, &high, sign, corner), -150);
      continue;
    }
    for (int k = 0; k <= 400; k++)
      check_near(id, sum_db(&low, &high, sign, 20 * pow(1000, k / 400.0)), check_cell(id, i, "expected dB"),
                 tolerance);
  }
}

static void test_butterworth_sums(void)
{
  const char *id = "xo.bw_sum";
  double tolerance = check_tolerance(id, "abs");

  for (size_t i = 0; i < check_rows(id); i++) {
    double sign = strstr(check_text(id, i, "polarity"), "inverted") ? -1 : 1,
           at_corner = check_cell(id, i, "at fc"), most = -INFINITY;
    int order = atoi(check_text(id, i, "filter") + 2);
    Filter low = design(CW_FILTER_BUTTERWORTH, CW_LOW_PASS, order, 300, 48000);
    Filter high = design(CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, order, 300, 48000);
    if (isinf(at_corner))
      check_below("null at the corner, dB", sum_db(&low, &high, sign, 300), -150);
    else
      check_near(id, sum_db(&low, &high, sign, 300), at_corner, tolerance);
    for (int k = 0; k <= 4000; k++)
      most = fmax(most, sum_db(&low, &high, sign, 20 * pow(1000, k / 4000.0)));
    check_near(id, most, check_cell(id, i, "max"), tolerance);
  }
}

/* xo.gd_dc: low-frequency group delay of the analogue filter. */
static void test_delay_at_0_hz(void)
{
  static const char *const corners[] = {"80", "300", "2500"};
  const char *id = "xo.gd_dc";

  for (size_t i = 0; i < check_rows(id); i++)
    for (size_t k = 0; k < G_N_ELEMENTS(corners); k++) {
      int order;
      CwFilterFamily family = family_of(check_text(id, i, "filter"), &order);
      double corner = atof(corners[k]);
      Filter filter = design(family, CW_LOW_PASS, order, corner, 400 * corner);
      /* At 0 Hz the bilinear transform stretches time by tan(x) / x with x = pi corner / rate. */
      double x = G_PI / 400, stretch = tan(x) / x;
      check_near_relative(id, group_delay_ms(&filter, 1e-3) * stretch, check_cell(id, i, corners[k]),
                          check_tolerance(id, "rel"));
    }
}

static void test_refusals(void)
{
  CwCoefficients c[CW_CROSSOVER_MOST_SECTIONS];

  g_assert_cmpuint(cw_crossover_design(CW_FILTER_BUTTERWORTH, CW_LOW_PASS, 0, 100, 48000, c, NULL), ==, 0);
  g_assert_cmpuint(cw_crossover_design(CW_FILTER_BUTTERWORTH, CW_LOW_PASS, 9, 100, 48000, c, NULL), ==, 0);
  g_assert_cmpuint(cw_crossover_design(CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, 3, 100, 48000, c, NULL), ==, 0);
  g_assert_cmpuint(cw_crossover_design(CW_FILTER_BESSEL, CW_LOW_PASS, 4, 24000, 48000, c, NULL), ==, 0);
  g_assert_cmpuint(cw_crossover_design(CW_FILTER_BESSEL, CW_LOW_PASS, 4, NAN, 48000, c, NULL), ==, 0);
  g_assert_cmpuint(cw_crossover_design(CW_FILTER_FAMILIES, CW_LOW_PASS, 4, 100, 48000, c, NULL), ==, 0);
  for (int family = 0; family < CW_FILTER_FAMILIES; family++)
    g_assert_cmpint(cw_filter_family_from_name(cw_filter_family_name((CwFilterFamily)family)), ==, family);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/crossover/magnitudes", test_magnitudes);
  g_test_add_func("/crossover/bessel-digital", test_bessel_digital);
  g_test_add_func("/crossover/q", test_q);
  g_test_add_func("/crossover/bessel-analogue", test_bessel_analogue);
  g_test_add_func("/crossover/bessel-half-power", test_bessel_half_power);
  g_test_add_func("/crossover/coefficients", test_coefficients);
  g_test_add_func("/crossover/sections-told", test_sections_told);
  g_test_add_func("/crossover/linkwitz-riley-sums", test_linkwitz_riley_sums);
  g_test_add_func("/crossover/butterworth-sums", test_butterworth_sums);
  g_test_add_func("/crossover/delay-at-0-hz", test_delay_at_0_hz);
  g_test_add_func("/crossover/refusals", test_refusals);
  return g_test_run();
}
