/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mixed.h"

/* Points: 1/12 octave from 20 Hz. */
static void test_points(void)
{
  g_assert_cmpfloat_with_epsilon(cw_mix_hz(0), 20, 1e-12);
  g_assert_cmpfloat_with_epsilon(cw_mix_hz(12), 40, 1e-12);
  g_assert_cmpfloat_with_epsilon(cw_mix_hz(CW_SURVEY_POINTS - 1) / cw_mix_hz(CW_SURVEY_POINTS - 2),
                                 exp2(1.0 / 12), 1e-12);
}

/* A part's gain, polarity and delay, with the lead's own delay, and the all-pass of the choice, unless it is
 * the lead's own: against the section that the signal room designs, which a digital filter's warping parts
 * from the analogue one by nothing that shows at 500 Hz. */
static void test_contribution(void)
{
  CwMixLead lead = flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 0.8, 1.5e-3);
  CwMixPart part = {.gain_db = -6, .inverted = true, .delay_seconds = 0.7e-3};
  CwMixChoice choice = {.all_passes = 1, .all_pass_hz = {500}, .all_pass_q = {0.9}};
  CwSection turn = {CW_SECTION_ALL_PASS, 500, 0, 0.9};
  CwCoefficients c;
  CwComplex value[CW_SURVEY_POINTS], own[CW_SURVEY_POINTS];
  g_assert_true(cw_section_design(&turn, RATE_HZ, &c));
  cw_mix_contribution(&choice, &lead, &part, value);
  lead.all_pass_hz = 505;
  lead.all_pass_q = 0.95;
  g_assert_true(cw_mix_is_own_all_pass(&choice, 0, &lead));
  cw_mix_contribution(&choice, &lead, &part, own);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    double hz = cw_mix_hz(i);
    CwComplex plain = -0.8 * pow(10, -6.0 / 20) * cexp(-2 * G_PI * I * hz * 2.2e-3);
    g_assert_cmpfloat(cabs(own[i] - plain), <, 1e-12);
    if (hz < 3000)
      g_assert_cmpfloat(cabs(value[i] - plain * cw_coefficients_response(&c, hz, RATE_HZ)), <, 0.01);
    g_assert_cmpfloat_with_epsilon(cabs(value[i]), cabs(plain), 1e-12);
  }
}

/* Whose an all-pass is: within a twelfth of an octave and a fifth of its Q. */
static void test_own_all_pass(void)
{
  CwMixChoice choice = {.all_passes = 2, .all_pass_hz = {500, 1000}, .all_pass_q = {1, 1}};
  CwMixLead lead = flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0);
  g_assert_false(cw_mix_is_own_all_pass(&choice, 0, &lead));
  lead.all_pass_hz = 1000;
  lead.all_pass_q = 1.2;
  g_assert_false(cw_mix_is_own_all_pass(&choice, 0, &lead));
  g_assert_true(cw_mix_is_own_all_pass(&choice, 1, &lead));
  lead.all_pass_q = 1.3;
  g_assert_false(cw_mix_is_own_all_pass(&choice, 1, &lead));
  lead.all_pass_q = 1;
  lead.all_pass_hz = 1070;
  g_assert_false(cw_mix_is_own_all_pass(&choice, 1, &lead));
}

/* A side's sum is that of its parts' contributions. */
static void test_sum(void)
{
  CwMixLead lead[] = {way(1, CW_SIDE_LEFT, CW_LOW_PASS, 900, 1, 0),
                      way(2, CW_SIDE_LEFT, CW_HIGH_PASS, 900, 1, 0)};
  CwMixChoice choice = {.side = {{.parts = 2, .part = {{.index = 0}, {.index = 1}}}}};
  CwComplex sum[CW_SURVEY_POINTS];
  cw_mix_sum(&choice, lead, CW_SIDE_LEFT, sum);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    g_assert_cmpfloat_with_epsilon(cabs(sum[i]), 1, 1e-9); /* Linkwitz-Riley */
  cw_mix_sum(&choice, lead, CW_SIDE_RIGHT, sum);
  g_assert_cmpfloat(cabs(sum[50]), ==, 0);
}

/* Two leads apart by t: |cos(pi f t)| of their sum in phase, and what is lost is its mean square. Unequal
 * ones that are further apart than 12 dB do not meet, nor do those that meet in less than half an octave. */
static void test_raw_sum(void)
{
  static const size_t index[] = {0, 1};
  CwMixLead lead[] = {flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 2e-3),
                      flat_lead(2, CW_SIDE_LEFT, CW_END_REAR, 1, 2.05e-3)};
  double db[CW_SURVEY_POINTS], octaves, mean = 0;
  double loss = cw_mix_raw_sum(lead, index, 2, db, &octaves);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    double part = fabs(cos(G_PI * cw_mix_hz(i) * 0.05e-3));
    mean += part * part / CW_SURVEY_POINTS;
    g_assert_cmpfloat_with_epsilon(pow(10, db[i] / 20), 2 * part, 1e-8);
  }
  g_assert_cmpfloat_with_epsilon(loss, -10 * log10(mean), 1e-9);
  g_assert_cmpfloat_with_epsilon(octaves, 10, 1e-9);
  g_assert_cmpfloat(cw_mix_raw_sum(lead, index, 1, db, NULL), ==, 0);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    lead[1].value[i] = -0.2; /* 14 dB below */
  g_assert_cmpfloat(cw_mix_raw_sum(lead, index, 2, db, &octaves), ==, 0);
  g_assert_cmpfloat(octaves, ==, 0);
  for (size_t i = 60; i < 65; i++)
    lead[1].value[i] = -1;
  g_assert_cmpfloat(cw_mix_raw_sum(lead, index, 2, db, &octaves), ==, 0);
  g_assert_cmpfloat_with_epsilon(octaves, 5.0 / 12, 1e-12);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    lead[0].value[i] = lead[1].value[i] = 0;
  cw_mix_raw_sum(lead, index, 2, db, NULL);
  g_assert_true(isnan(db[7]));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/mix/points", test_points);
  g_test_add_func("/survey/mix/contribution", test_contribution);
  g_test_add_func("/survey/mix/own-all-pass", test_own_all_pass);
  g_test_add_func("/survey/mix/sum", test_sum);
  g_test_add_func("/survey/mix/raw-sum", test_raw_sum);
  return g_test_run();
}
