/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/survey_private.h"

#include <math.h>

/* A lead of which only side, end and delay matter. */
static CwSurveyedLead lead_at(int number, int side, int end, double delay_seconds)
{
  return (CwSurveyedLead){.lead = number,
                          .side = side,
                          .end = end,
                          .band = CW_BAND_FULL,
                          .low_hz = NAN,
                          .high_hz = NAN,
                          .delay_seconds = delay_seconds};
}

static CwSurveyResult result_of(CwSurveyedLead *lead, size_t leads)
{
  return (CwSurveyResult){.lead = lead, .leads = leads, .seat_side = CW_SURVEY_UNKNOWN};
}

/* Front and rear pair both later on the right: a seat setting, by the mean of both, on that side. */
static void test_pairs(void)
{
  for (int side = CW_SIDE_LEFT; side <= CW_SIDE_RIGHT; side++) {
    double left = side == CW_SIDE_LEFT ? 1e-3 : 0, right = side == CW_SIDE_RIGHT ? 1e-3 : 0;
    CwSurveyedLead lead[] = {lead_at(1, CW_SIDE_LEFT, CW_END_FRONT, left),
                             lead_at(2, CW_SIDE_RIGHT, CW_END_FRONT, right),
                             lead_at(3, CW_SIDE_LEFT, CW_END_REAR, 4e-3 + 1.2 * left),
                             lead_at(4, CW_SIDE_RIGHT, CW_END_REAR, 4e-3 + 1.2 * right)};
    CwSurveyResult r = result_of(lead, 4);
    cw_survey_conclude_seat(&r, NULL);
    g_assert_true(r.seat_found && r.seat_active);
    g_assert_cmpint(r.seat_side, ==, side);
    g_assert_cmpfloat_with_epsilon(r.seat_delay_seconds, 1.1e-3, 1e-9);
  }
}

/* One pair apart and the other not, or both apart in opposite directions, or by less than speakers are: no
 * seat setting does that. */
static void test_no_setting(void)
{
  static const double late[][4] = {
      {0, 1e-3, 0, 0}, {0, 1e-3, 1e-3, 0}, {0, 0.09e-3, 0, 0.09e-3}, {0, 0, 0, 0}};
  for (size_t k = 0; k < G_N_ELEMENTS(late); k++) {
    CwSurveyedLead lead[] = {lead_at(1, CW_SIDE_LEFT, CW_END_FRONT, late[k][0]),
                             lead_at(2, CW_SIDE_RIGHT, CW_END_FRONT, late[k][1]),
                             lead_at(3, CW_SIDE_LEFT, CW_END_REAR, late[k][2]),
                             lead_at(4, CW_SIDE_RIGHT, CW_END_REAR, late[k][3])};
    CwSurveyResult r = result_of(lead, 4);
    cw_survey_conclude_seat(&r, NULL);
    g_assert_false(r.seat_found || r.seat_active);
    g_assert_cmpint(r.seat_side, ==, CW_SURVEY_UNKNOWN);
  }
}

/* Only leads that are alike are a pair: same end and band, edges within half an octave, the nearest of two. A
 * lead without a known delay has none. */
static void test_partners(void)
{
  CwSurveyedLead lead[] = {
      lead_at(1, CW_SIDE_LEFT, CW_END_FRONT, 0), lead_at(2, CW_SIDE_RIGHT, CW_END_FRONT, 1e-3),
      lead_at(3, CW_SIDE_RIGHT, CW_END_FRONT, 0), lead_at(4, CW_SIDE_RIGHT, CW_END_FRONT, 9e-3)};
  lead[2].low_hz = 100;    /* less alike than lead 2 */
  lead[3].high_hz = 10000; /* an octave short of the left's */
  CwSurveyResult r = result_of(lead, 4);
  cw_survey_conclude_seat(&r, NULL);
  g_assert_true(r.seat_found);
  g_assert_cmpfloat_with_epsilon(r.seat_delay_seconds, 1e-3, 1e-9);
  lead[1].delay_seconds = NAN;
  r = result_of(lead, 4);
  cw_survey_conclude_seat(&r, NULL); /* now lead 3 is its like, and there is nothing between them */
  g_assert_false(r.seat_found);
  lead[1] = lead_at(2, CW_SIDE_RIGHT, CW_END_REAR, 1e-3);
  lead[2].band = CW_BAND_MID;
  r = result_of(lead, 4);
  cw_survey_conclude_seat(&r, NULL);
  g_assert_false(r.seat_found);
}

/* What differs between two settings is the setting's doing: the largest change counts, and it is not active
 * in the one that is concluded from. */
static void test_two_settings(void)
{
  CwSurveyedLead plain[] = {lead_at(1, CW_SIDE_LEFT, CW_END_FRONT, 0),
                            lead_at(2, CW_SIDE_RIGHT, CW_END_FRONT, 0),
                            lead_at(3, CW_SIDE_LEFT, CW_END_REAR, NAN)},
                 driver[] = {lead_at(1, CW_SIDE_LEFT, CW_END_FRONT, 1.4e-3),
                             lead_at(2, CW_SIDE_RIGHT, CW_END_FRONT, 0.2e-3),
                             lead_at(3, CW_SIDE_LEFT, CW_END_REAR, 8e-3)};
  CwSurveyResult r = result_of(plain, 3), other = result_of(driver, 3);
  cw_survey_conclude_seat(&r, &other);
  g_assert_true(r.seat_found);
  g_assert_false(r.seat_active);
  g_assert_cmpint(r.seat_side, ==, CW_SIDE_LEFT);
  g_assert_cmpfloat_with_epsilon(r.seat_delay_seconds, 1.4e-3, 1e-12);
  /* The same in both: no setting. */
  CwSurveyResult same = result_of(plain, 3), again = result_of(plain, 3);
  cw_survey_conclude_seat(&same, &again);
  g_assert_false(same.seat_found);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/seat-setting/pairs", test_pairs);
  g_test_add_func("/survey/seat-setting/no-setting", test_no_setting);
  g_test_add_func("/survey/seat-setting/partners", test_partners);
  g_test_add_func("/survey/seat-setting/two-settings", test_two_settings);
  return g_test_run();
}
