/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "accepted.h"

#include <math.h>
#include <string.h>

static RadioLead filtered(CwFilterFamily family, int low_order, double low_hz, int high_order, double high_hz)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 1, 0);
  if (low_order)
    radio_add_filter(&lead, family, CW_HIGH_PASS, low_order, low_hz);
  if (high_order)
    radio_add_filter(&lead, family, CW_LOW_PASS, high_order, high_hz);
  return lead;
}

static double db_at(const RadioLead *lead, double hz)
{
  return 20 * log10(cabs(radio_response(lead, hz, 0)) + 1e-15);
}

/* What would be told of such a lead. */
static CwSurveyedLead told(const RadioLead *lead)
{
  CwSurveyedLead l = {.lead = 1};
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    l.response_dbv[i] = db_at(lead, 20 * exp2((double)i / 12));
  return l;
}

/* Where a lead falls 6 dB below its top, from the middle of its band outwards, by halving. */
static double edge_of(const RadioLead *lead, double inside_hz, double outside_hz)
{
  double top = -INFINITY;
  for (double hz = 20; hz < 20000; hz *= 1.003)
    top = MAX(top, db_at(lead, hz));
  for (int round = 0; round < 60; round++) {
    double middle = sqrt(inside_hz * outside_hz);
    *(db_at(lead, middle) > top - 6 ? &inside_hz : &outside_hz) = middle;
  }
  return inside_hz;
}

/* The edges lie where the lead is 6 dB below its top, within the twelfth of an octave that the methods ask
 * for, wherever that is between two points. */
static void test_edges(void)
{
  for (double shift = 0; shift < 1; shift += 0.1)
    for (int family = CW_FILTER_BUTTERWORTH; family <= CW_FILTER_LINKWITZ_RILEY; family++)
      for (int order = 2; order <= 8; order += 2) {
        RadioLead lead =
            filtered((CwFilterFamily)family, order, 300 * exp2(shift / 12), order, 4000 * exp2(shift / 12));
        CwSurveyedLead l = told(&lead);
        cw_survey_conclude_band(&l);
        g_assert_cmpfloat_with_epsilon(log2(l.low_hz / edge_of(&lead, 1000, 20)), 0, 1.0 / 12);
        g_assert_cmpfloat_with_epsilon(log2(l.high_hz / edge_of(&lead, 1000, 20000)), 0, 1.0 / 12);
      }
}

/* What a lead is for, by its edges; none is told at the ends of what is measured. */
static void test_bands(void)
{
  static const struct {
    double low_hz, high_hz;
    int band;
  } cases[] = {{0, 0, CW_BAND_FULL},        {60, 0, CW_BAND_FULL},     {200, 0, CW_BAND_MID},
               {2500, 0, CW_BAND_HIGH},     {0, 90, CW_BAND_BASS},     {30, 180, CW_BAND_BASS},
               {60, 3000, CW_BAND_LOW},     {0, 5000, CW_BAND_LOW},    {250, 3000, CW_BAND_LOW},
               {20.5, 19500, CW_BAND_FULL}, {3000, 8000, CW_BAND_HIGH}};
  for (size_t k = 0; k < G_N_ELEMENTS(cases); k++) {
    RadioLead lead = filtered(CW_FILTER_LINKWITZ_RILEY, cases[k].low_hz ? 4 : 0, cases[k].low_hz,
                              cases[k].high_hz ? 4 : 0, cases[k].high_hz);
    CwSurveyedLead l = told(&lead);
    cw_survey_conclude_band(&l);
    g_test_message("case %zu: %.1f to %.1f Hz", k, l.low_hz, l.high_hz);
    g_assert_cmpint(l.band, ==, cases[k].band);
    g_assert_true(isnan(l.low_hz) == (cases[k].low_hz < 21));
    g_assert_true(isnan(l.high_hz) == (cases[k].high_hz == 0 || cases[k].high_hz > 18000));
  }
}

/* A point that noise hides beside the edge does not move it by more than the step. */
static void test_hidden_point(void)
{
  RadioLead lead = filtered(CW_FILTER_LINKWITZ_RILEY, 4, 300, 0, 0);
  CwSurveyedLead l = told(&lead);
  cw_survey_conclude_band(&l);
  double before = l.low_hz;
  for (size_t i = 0; i < CW_SURVEY_POINTS && 20 * exp2((double)i / 12) < 0.97 * before; i++)
    l.response_dbv[i] = NAN;
  cw_survey_conclude_band(&l);
  g_assert_cmpfloat_with_epsilon(log2(l.low_hz / before), 0, 1.0 / 12);
}

/* A radio of five leads: left and right, a woofer fed from both, one that is silent, one late tweeter. */
static void make_leads(AcceptedLead *lead)
{
  memset(lead, 0, 5 * sizeof *lead);
  lead[0].lead = radio_lead(CW_PLAYED_LEFT, 0.5, 2e-3);
  lead[1].lead = radio_lead(CW_PLAYED_RIGHT, -0.25, 2.5e-3);
  lead[2].lead = radio_lead(CW_PLAYED_BOTH, 0.4, 2.2e-3);
  lead[3].lead = radio_lead(0, 0.5, 0);
  lead[4].lead = radio_lead(CW_PLAYED_LEFT, 0.3, 6e-3);
  radio_add_filter(&lead[2].lead, CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, 4, 120);
  radio_add_filter(&lead[4].lead, CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, 4, 3000);
}

static const CwSurveyedLead *of(const CwSurveyResult *r, int number)
{
  for (size_t i = 0; i < r->leads; i++)
    if (r->lead[i].lead == number)
      return &r->lead[i];
  g_assert_not_reached();
}

/* Side, polarity, delay after the earliest, level re 1 V RMS of a full-scale sine, with the recorder's volts
 * known and unknown. */
static void test_leads(void)
{
  AcceptedLead lead[5];
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(4);
  make_leads(lead);
  accepted_take(survey, CW_STIMULUS_LEADS, lead, 5, 1, 20, "all");
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_cmpuint(r->leads, ==, 5);
  g_assert_cmpfloat(r->player_ppm, ==, 12);
  g_assert_cmpint(of(r, 1)->side, ==, CW_SIDE_LEFT);
  g_assert_cmpint(of(r, 2)->side, ==, CW_SIDE_RIGHT);
  g_assert_cmpint(of(r, 3)->side, ==, CW_SIDE_BOTH);
  g_assert_true(of(r, 4)->silent);
  g_assert_cmpint(of(r, 4)->side, ==, CW_SURVEY_UNKNOWN);
  g_assert_true(isnan(of(r, 4)->delay_seconds) && isnan(of(r, 4)->level_dbv));
  g_assert_cmpfloat(of(r, 1)->polarity, ==, 1);
  g_assert_cmpfloat(of(r, 2)->polarity, ==, -1);
  g_assert_cmpint(of(r, 3)->band, ==, CW_BAND_BASS);
  g_assert_cmpint(of(r, 5)->band, ==, CW_BAND_HIGH);
  g_assert_cmpfloat_with_epsilon(of(r, 1)->delay_seconds, 0, 10e-6);
  g_assert_cmpfloat_with_epsilon(of(r, 2)->delay_seconds, 0.5e-3, 10e-6);
  g_assert_cmpfloat_with_epsilon(of(r, 5)->delay_seconds, 4e-3, 10e-6);
  /* A full-scale sine of 4 V peak through a lead of a half. */
  g_assert_cmpfloat_with_epsilon(of(r, 1)->level_dbv, 20 * log10(0.5 * 4 / M_SQRT2), 0.01);
  /* Both sweeps; the level that a tenth of the points, an octave, exceed: a woofer's at 40 Hz. */
  g_assert_cmpfloat_with_epsilon(of(r, 3)->level_dbv, db_at(&lead[2].lead, 40) + 20 * log10(2 * 4 / M_SQRT2),
                                 0.01);
  g_assert_cmpfloat_with_epsilon(of(r, 1)->noise_dbv, 20 * log10(1e-5 * 4), 1e-9);
  g_assert_false(r->volts_untold);
  cw_lead_survey_set_volts(survey, NAN);
  g_autoptr(CwSurveyResult) untold = cw_lead_survey_conclude(survey);
  g_assert_true(untold->volts_untold);
  g_assert_cmpfloat_with_epsilon(of(untold, 1)->level_dbv, 20 * log10(0.5 / M_SQRT2), 0.01);
}

/* Two recordings that share a lead are one: the second's times and levels are brought to the first's, by what
 * it makes of the shared lead, whatever its own start and gain were. */
static void test_joined(void)
{
  AcceptedLead lead[5];
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
  make_leads(lead);
  accepted_take(survey, CW_STIMULUS_LEADS, lead, 2, 1, 20, "all");
  AcceptedLead second[2] = {lead[1], lead[4]};
  for (size_t k = 0; k < 2; k++) {
    second[k].gain_db = 3;
    second[k].lead.delay_seconds += 1.7e-3;
  }
  accepted_take(survey, CW_STIMULUS_LEADS, second, 2, 2, 20, "all");
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_cmpuint(r->leads, ==, 3);
  g_assert_cmpfloat_with_epsilon(of(r, 3)->delay_seconds, 4e-3, 10e-6);
  /* The level that a tenth of the points exceed: a tweeter's an octave below 20 kHz. */
  g_assert_cmpfloat_with_epsilon(of(r, 3)->level_dbv, db_at(&lead[4].lead, 9700) - 20 * log10(M_SQRT2), 0.01);
}

/* Without a shared lead its time cannot be told, but everything else is. */
static void test_not_joined(void)
{
  AcceptedLead lead[5];
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
  make_leads(lead);
  accepted_take(survey, CW_STIMULUS_LEADS, lead, 2, 1, 20, "all");
  accepted_take(survey, CW_STIMULUS_LEADS, lead + 4, 1, 5, 20, "all");
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_cmpuint(r->leads, ==, 3);
  g_assert_true(isnan(of(r, 5)->delay_seconds));
  g_assert_false(isnan(of(r, 2)->delay_seconds));
  g_assert_cmpint(of(r, 5)->side, ==, CW_SIDE_LEFT);
  g_assert_cmpfloat(of(r, 5)->polarity, ==, 1);
}

/* A delay that is less sure than a twelfth of a turn at the band's edge, twice over, is not told. Here noise
 * hides where a woofer's band ends, so that it is to be sure enough for any: 2.3 us, which it is not. */
static void test_doubtful_delay(void)
{
  static const double noise[] = {1e-3, 0.09};
  AcceptedLead lead[5];
  make_leads(lead);
  for (size_t k = 0; k < G_N_ELEMENTS(noise); k++) {
    g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
    accepted_take(survey, CW_STIMULUS_LEADS, lead, 5, 1, 20, "all");
    CwAcceptedLead *woofer = &g_array_index(survey->takes, CwAcceptedTake, 0).lead[2];
    for (size_t i = 0; i < CW_LEAD_POINTS; i++)
      for (size_t s = 0; s < 2; s++)
        woofer->response[s].noise[i] = noise[k] * cabs(woofer->response[s].value[i]);
    g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
    double deviation = of(r, 3)->fit.delay_deviation_seconds;
    g_test_message("deviation %.3f us", 1e6 * deviation);
    g_assert_true(isnan(of(r, 3)->high_hz) == (k == 1));
    g_assert_true((2 * deviation * (k ? 18000 : 120) > 1.0 / 12) == (k == 1));
    g_assert_true(isnan(of(r, 3)->delay_seconds) == (k == 1));
    g_assert_true(of(r, 3)->fit.sure);
    g_assert_cmpfloat(of(r, 3)->polarity, ==, 1);
    g_assert_false(isnan(of(r, 1)->delay_seconds));
  }
}

/* Nothing heard, nothing concluded; another seat's recordings are compared and not mixed in. */
static void test_seats(void)
{
  AcceptedLead lead[5];
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
  g_assert_null(cw_lead_survey_conclude(survey));
  make_leads(lead);
  AcceptedLead later[2] = {lead[0], lead[1]};
  later[1].lead.delay_seconds += 1.5e-3;
  accepted_take(survey, CW_STIMULUS_LEADS, later, 2, 1, 20, "driver");
  accepted_take(survey, CW_STIMULUS_LEADS, lead, 2, 1, 20, "all");
  g_assert_cmpuint(cw_lead_survey_count(survey, CW_STIMULUS_LEADS), ==, 2);
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_cmpstr(r->seat, ==, "all");
  g_assert_cmpstr(r->other_seat, ==, "driver");
  g_assert_cmpfloat_with_epsilon(of(r, 2)->delay_seconds, 0.5e-3, 10e-6);
  g_assert_true(r->seat_found);
  cw_survey_result_free(NULL);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/lead-conclusion/edges", test_edges);
  g_test_add_func("/survey/lead-conclusion/bands", test_bands);
  g_test_add_func("/survey/lead-conclusion/hidden-point", test_hidden_point);
  g_test_add_func("/survey/lead-conclusion/leads", test_leads);
  g_test_add_func("/survey/lead-conclusion/joined", test_joined);
  g_test_add_func("/survey/lead-conclusion/not-joined", test_not_joined);
  g_test_add_func("/survey/lead-conclusion/doubtful-delay", test_doubtful_delay);
  g_test_add_func("/survey/lead-conclusion/seats", test_seats);
  return g_test_run();
}
