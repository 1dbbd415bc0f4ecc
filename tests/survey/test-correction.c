/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mixed.h"
#include "survey/mix/correction.h"

static const CwLimits limits = {.rate_hz = RATE_HZ,
                                .sections = 10,
                                .section_gain_least_db = -15,
                                .section_gain_most_db = 6,
                                .q_least = 0.4,
                                .q_most = 10,
                                .all_pass = true,
                                .delay_step_seconds = 1 / RATE_HZ,
                                .delay_most_seconds = INFINITY};

/* Flat leads need nothing. */
static void test_flat(void)
{
  CwMixLead lead[] = {flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0),
                      flat_lead(2, CW_SIDE_RIGHT, CW_END_FRONT, 1, 0)};
  CwCorrectionPlan plan;
  cw_correct_leads(lead, 2, &limits, &plan);
  g_assert_cmpuint(plan.inputs, ==, 2);
  for (size_t k = 0; k < plan.inputs; k++) {
    g_assert_cmpuint(plan.input[k].sections, ==, 0);
    g_assert_false(plan.input[k].inverted);
    g_assert_cmpfloat(plan.input[k].delay_samples, ==, 0);
    g_assert_cmpfloat_with_epsilon(plan.input[k].gain_db, 0, 1e-9);
  }
  g_assert_cmpfloat(plan.flat_db, <, 1e-9);
}

/* Ways that were pulled apart in level, time and polarity are put together again, without a section. */
static void test_ways(void)
{
  CwMixLead lead[4];
  CwCorrectionPlan plan;
  CwComplex sum[CW_SURVEY_POINTS];
  for (int side = 0; side < 2; side++) {
    lead[2 * side] = way(1 + 2 * side, side, CW_LOW_PASS, 2500, 1, 20 / RATE_HZ);
    lead[2 * side + 1] = way(2 + 2 * side, side, CW_HIGH_PASS, 2500, -0.5, 3 / RATE_HZ);
  }
  cw_correct_leads(lead, 4, &limits, &plan);
  g_assert_cmpuint(plan.inputs, ==, 4);
  for (int side = 0; side < 2; side++) {
    cw_correct_sum(lead, &plan, &limits, side, sum);
    for (size_t i = 12; i < 116; i++)
      g_assert_cmpfloat_with_epsilon(db_of(sum[i]), db_of(sum[50]), 0.2);
  }
  for (size_t k = 0; k < plan.inputs; k++) {
    gboolean high = plan.input[k].index % 2;
    g_assert_cmpfloat(plan.input[k].delay_samples, ==, high ? 17 : 0);
    g_assert_true(plan.input[k].inverted == high);
    g_assert_cmpfloat_with_epsilon(plan.input[k].gain_db, high ? 0 : -6, 0.1);
    g_assert_cmpuint(plan.input[k].sections, ==, 0);
  }
}

/* The polarity is that in which the ways add up, whatever peaks and dips of theirs a cancellation happens to
 * even out: a first-order high-pass turns by +45 degrees at its corner, a fourth-order low-pass by -180. */
static void test_polarity_beside_peaks(void)
{
  GRand *random = g_rand_new_with_seed(11);
  for (int round = 0; round < 40; round++) {
    double hz = 2000 * pow(2.5, g_rand_double(random));
    CwCoefficients c[CW_CROSSOVER_MOST_SECTIONS];
    CwSection peak[4];
    CwMixLead lead[2];
    CwCorrectionPlan plan;
    lead[0] = way(1, CW_SIDE_LEFT, CW_LOW_PASS, hz, 1, 0);
    size_t high = cw_crossover_design(CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, 1, hz, RATE_HZ, c, NULL);
    lead[1] =
        lead_of(2, CW_SIDE_LEFT, CW_END_FRONT, g_rand_double_range(random, 0.5, 2), 0, c, high, hz, NAN);
    for (int s = 0; s < 4; s++)
      peak[s] = (CwSection){CW_SECTION_PEAKING, 100 * pow(0.01 * hz, g_rand_double(random)),
                            g_rand_double_range(random, -5, 5), g_rand_double_range(random, 0.6, 3)};
    shape(&lead[0], peak, 3);
    shape(&lead[1], peak + 3, 1);
    cw_correct_leads(lead, 2, &limits, &plan);
    g_assert_cmpuint(plan.inputs, ==, 2);
    g_assert_true(plan.input[0].inverted != plan.input[1].inverted);
    g_assert_cmpfloat(plan.flat_db, <, 1.5);
  }
  g_rand_free(random);
}

/* A rear lead that comes late is left alone where the front will do; left and right of a seat setting get
 * equal arrivals. */
static void test_late_rear(void)
{
  CwMixLead lead[] = {flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0),
                      flat_lead(2, CW_SIDE_RIGHT, CW_END_FRONT, 1, 48 / RATE_HZ),
                      flat_lead(3, CW_SIDE_LEFT, CW_END_REAR, 1.2, 8e-3),
                      flat_lead(4, CW_SIDE_RIGHT, CW_END_REAR, 1.2, 8e-3)};
  CwCorrectionPlan plan;
  cw_correct_leads(lead, 4, &limits, &plan);
  g_assert_cmpuint(plan.inputs, ==, 2);
  g_assert_cmpuint(plan.input[0].index, ==, 0);
  g_assert_cmpuint(plan.input[1].index, ==, 1);
  g_assert_cmpfloat(plan.input[0].delay_samples, ==, 48);
  g_assert_cmpfloat(plan.input[1].delay_samples, ==, 0);
}

static void check_same(const CwCorrectedInput *one, const CwCorrectedInput *other)
{
  g_assert_cmpuint(one->sections, ==, other->sections);
  for (size_t s = 0; s < one->sections; s++) {
    g_assert_cmpint(one->section[s].kind, ==, other->section[s].kind);
    g_assert_cmpfloat(one->section[s].frequency_hz, ==, other->section[s].frequency_hz);
    g_assert_cmpfloat(one->section[s].gain_db, ==, other->section[s].gain_db);
    g_assert_cmpfloat(one->section[s].q, ==, other->section[s].q);
  }
}

/* Random peaks and dips and a bass that falls away, each side its own: flat within the bar of +-1.5 dB, at
 * most 9 dB of boost; mirrored leads give mirrored settings, and the same leads the same bits. */
static void test_random_shapes(void)
{
  GRand *random = g_rand_new_with_seed(7);
  for (int round = 0; round < 25; round++) {
    CwMixLead lead[2], mirror[2];
    CwCorrectionPlan plan, again, mirrored;
    for (int side = 0; side < 2; side++) {
      CwSection section[4];
      for (int s = 0; s < 4; s++)
        section[s] = (CwSection){CW_SECTION_PEAKING, 60 * pow(200, g_rand_double(random)),
                                 g_rand_double_range(random, -6, 6), g_rand_double_range(random, 0.6, 3.5)};
      section[3] = (CwSection){CW_SECTION_HIGH_PASS, 25 * pow(3.5, g_rand_double(random)), 0,
                               g_rand_double_range(random, 0.5, 1)};
      lead[side] = flat_lead(1 + side, side, CW_END_FRONT, 1, 0);
      shape(&lead[side], section, 4);
      mirror[1 - side] = lead[side];
      mirror[1 - side].side = 1 - side;
    }
    cw_correct_leads(lead, 2, &limits, &plan);
    cw_correct_leads(lead, 2, &limits, &again);
    cw_correct_leads(mirror, 2, &limits, &mirrored);
    g_assert_cmpfloat(plan.flat_db, <, 1.5);
    g_assert_cmpfloat(plan.most_boost_db, <=, 9);
    g_assert_cmpuint(plan.inputs, ==, 2);
    for (size_t k = 0; k < 2; k++) {
      check_same(&plan.input[k], &again.input[k]);
      check_same(&plan.input[k], &mirrored.input[1 - k]);
    }
  }
  g_rand_free(random);
}

/* Where the radio has no bass, none is made: the range ends where more than 9 dB would be asked for. */
static void test_no_bass(void)
{
  CwSection high_pass[] = {{CW_SECTION_HIGH_PASS, 120, 0, 0.54}, {CW_SECTION_HIGH_PASS, 120, 0, 1.31}};
  CwMixLead lead[] = {flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0),
                      flat_lead(2, CW_SIDE_RIGHT, CW_END_FRONT, 1, 0)};
  CwCorrectionPlan plan;
  for (int side = 0; side < 2; side++)
    shape(&lead[side], high_pass, 2);
  cw_correct_leads(lead, 2, &limits, &plan);
  g_assert_cmpfloat(plan.low_hz, >, 80);
  g_assert_cmpfloat(plan.low_hz, <, 120);
  g_assert_cmpfloat(plan.flat_db, <, 1.5);
  g_assert_cmpfloat(plan.most_boost_db, <=, 9);
}

/* An all-pass in one way only is matched in the other, and the ways add up. */
static void test_all_pass(void)
{
  CwMixLead lead[4];
  CwCorrectionPlan plan;
  CwComplex sum[CW_SURVEY_POINTS];
  CwSection turn = {CW_SECTION_ALL_PASS, 2200, 0, 1.1};
  for (int side = 0; side < 2; side++) {
    lead[2 * side] = way(1 + 2 * side, side, CW_LOW_PASS, 2500, 1, 0);
    lead[2 * side + 1] = way(2 + 2 * side, side, CW_HIGH_PASS, 2500, 1, 0);
    shape(&lead[2 * side + 1], &turn, 1);
    lead[2 * side + 1].all_pass_hz = turn.frequency_hz;
    lead[2 * side + 1].all_pass_q = turn.q;
  }
  cw_correct_leads(lead, 4, &limits, &plan);
  g_assert_cmpuint(plan.inputs, ==, 4);
  for (int side = 0; side < 2; side++) {
    cw_correct_sum(lead, &plan, &limits, side, sum);
    for (size_t i = 12; i < 116; i++)
      g_assert_cmpfloat_with_epsilon(db_of(sum[i]), db_of(sum[50]), 0.2);
  }
}

/* The ways of a crossover further apart than the processor delays: no input gets more than there is, what was
 * wanted is told, and the flatness told is that of what the inputs really do. At what it takes, nothing is
 * short. */
static void test_short_delay(void)
{
  const double apart_seconds = 7e-3, most_ms[] = {3, 6.9, 7, 20};
  CwMixLead lead[4];
  for (int side = 0; side < 2; side++) {
    lead[2 * side] = way(1 + 2 * side, side, CW_LOW_PASS, 2500, 1, apart_seconds);
    lead[2 * side + 1] = way(2 + 2 * side, side, CW_HIGH_PASS, 2500, 1, 0);
  }
  for (size_t k = 0; k < G_N_ELEMENTS(most_ms); k++) {
    CwLimits held = limits;
    CwCorrectionPlan plan;
    held.delay_most_seconds = 1e-3 * most_ms[k];
    cw_correct_leads(lead, 4, &held, &plan);
    for (size_t i = 0; i < plan.inputs; i++)
      g_assert_cmpfloat(plan.input[i].delay_samples, <=, held.delay_most_seconds * RATE_HZ + 1e-6);
    if (1e-3 * most_ms[k] < apart_seconds) {
      g_assert_cmpfloat_with_epsilon(plan.wanted_seconds, apart_seconds, 1.5e-4);
    } else {
      g_assert_cmpfloat(plan.wanted_seconds, ==, 0);
      g_assert_cmpfloat(plan.flat_db, <, 0.5);
    }
  }
}

/* Nothing usable: no plan, and no invented figure. */
static void test_nothing(void)
{
  CwMixLead lead[] = {flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0),
                      flat_lead(2, CW_SIDE_BOTH, CW_END_FRONT, 1, 0)};
  CwCorrectionPlan plan;
  cw_correct_leads(lead, 0, &limits, &plan);
  g_assert_cmpuint(plan.inputs, ==, 0);
  g_assert_true(isnan(plan.flat_db));
  lead[0].usable = false;
  cw_correct_leads(lead, 2, &limits, &plan);
  g_assert_cmpuint(plan.inputs, ==, 0);
  lead[0].usable = true;
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    lead[0].value[i] = 0;
  cw_correct_leads(lead, 2, &limits, &plan);
  g_assert_cmpfloat(plan.most_boost_db, <=, 9);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/correction/flat", test_flat);
  g_test_add_func("/survey/correction/ways", test_ways);
  g_test_add_func("/survey/correction/polarity-beside-peaks", test_polarity_beside_peaks);
  g_test_add_func("/survey/correction/late-rear", test_late_rear);
  g_test_add_func("/survey/correction/random-shapes", test_random_shapes);
  g_test_add_func("/survey/correction/no-bass", test_no_bass);
  g_test_add_func("/survey/correction/all-pass", test_all_pass);
  g_test_add_func("/survey/correction/short-delay", test_short_delay);
  g_test_add_func("/survey/correction/nothing", test_nothing);
  return g_test_run();
}
