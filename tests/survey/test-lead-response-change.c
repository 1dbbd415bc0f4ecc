/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "radio.h"
#include "survey/survey_private.h"

#include <math.h>

static RadioLead full_range(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.4, 2e-3);
  radio_add_filter(&lead, CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, 2, 60);
  radio_add_section(&lead, CW_SECTION_PEAKING, 900, 5, 1.4);
  return lead;
}

/* A gain and a delay are found again as they were put in; comparing tells both and nothing else. */
static void test_moved(void)
{
  static const double gains[] = {0.3, 2.5}, seconds[] = {-31.7e-6, 0, 19e-3};
  RadioLead lead = full_range();
  for (size_t g = 0; g < G_N_ELEMENTS(gains); g++)
    for (size_t s = 0; s < G_N_ELEMENTS(seconds); s++) {
      CwLeadResponse before, after;
      double later, gain;
      radio_ideal(&lead, 1e-5, &before);
      after = before;
      cw_lead_response_move(&after, gains[g], seconds[s]);
      g_assert_cmpfloat_with_epsilon(after.noise[9], gains[g] * before.noise[9], 1e-15);
      g_assert_true(cw_lead_response_compare(&after, &before, &later, &gain));
      g_assert_cmpfloat_with_epsilon(later, seconds[s], 1e-9);
      g_assert_cmpfloat_with_epsilon(gain, gains[g], 1e-9);
    }
}

/* A delay that is in the values, not in the peak's time, is found as well, to the search's 20 ms: the peak is
 * only where the values are counted from. */
static void test_delayed(void)
{
  for (double seconds = -19e-3; seconds < 20e-3; seconds += 7.373e-3) {
    RadioLead lead = full_range(), late = full_range();
    CwLeadResponse before, after;
    double later, gain;
    late.delay_seconds += seconds;
    radio_ideal(&lead, 1e-5, &before);
    radio_ideal(&late, 1e-5, &after);
    for (size_t i = 0; i < CW_LEAD_POINTS; i++)
      after.value[i] = radio_response(&late, cw_lead_hz(i), before.peak_seconds);
    after.peak_seconds = before.peak_seconds;
    g_assert_true(cw_lead_response_compare(&after, &before, &later, &gain));
    g_assert_cmpfloat_with_epsilon(later, seconds, 1e-9);
    g_assert_cmpfloat_with_epsilon(gain, 1, 1e-9);
  }
}

/* What noise hides is not compared: two dozen points there must be. */
static void test_too_little(void)
{
  RadioLead lead = full_range();
  CwLeadResponse one, other;
  double later = 7, gain = 7;
  radio_ideal(&lead, 1e-5, &one);
  radio_ideal(&lead, 1e-5, &other);
  for (size_t i = 23; i < CW_LEAD_POINTS; i++)
    other.noise[i] = 1;
  for (size_t i = 0; i < 23; i++)
    other.noise[i] = one.noise[i] = 0;
  g_assert_false(cw_lead_response_compare(&one, &other, &later, &gain));
  other.noise[23] = 0;
  g_assert_true(cw_lead_response_compare(&one, &other, &later, &gain));
}

/* Left and right, each its own delay: both together are their sum at every point, and noise adds up by its
 * power. */
static void test_both(void)
{
  RadioLead left = full_range(), right = radio_lead(CW_PLAYED_RIGHT, -0.2, 3.7e-3);
  CwAcceptedLead heard = {.lead = 1};
  CwLeadResponse both;
  radio_ideal(&left, 3e-3, &heard.response[0]);
  radio_ideal(&right, 4e-3, &heard.response[1]);
  cw_accepted_lead_both(&heard, 1, &both);
  g_assert_cmpfloat(cabs(both.value[99] - heard.response[0].value[99]), ==, 0);
  cw_accepted_lead_both(&heard, 2, &both);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    double hz = cw_lead_hz(i);
    CwComplex sum =
        radio_response(&left, hz, both.peak_seconds) + radio_response(&right, hz, both.peak_seconds);
    g_assert_cmpfloat(cabs(both.value[i] - sum), <, 1e-12);
    g_assert_cmpfloat_with_epsilon(both.noise[i],
                                   hypot(heard.response[0].noise[i], heard.response[1].noise[i]), 1e-15);
  }
}

/* The median of a change over a range, dB; a lead that fell into the noise counts as the noise where that is
 * allowed, else not at all. */
static void test_change(void)
{
  RadioLead lead = full_range(), louder = full_range(), peaked = full_range();
  CwLeadResponse before, now, bent, faint;
  louder.gain *= pow(10, 4.5 / 20);
  radio_add_section(&peaked, CW_SECTION_PEAKING, 3000, 12, 8); /* a third of an octave of three octaves */
  radio_ideal(&lead, 1e-4, &before);
  radio_ideal(&louder, 1e-4, &now);
  radio_ideal(&peaked, 1e-4, &bent);
  g_assert_cmpfloat_with_epsilon(cw_lead_response_change_db(&now, &before, 100, 10000, 10, false), 4.5, 1e-9);
  g_assert_cmpfloat_with_epsilon(cw_lead_response_change_db(&bent, &before, 1000, 8000, 10, false), 0, 0.5);
  faint = before;
  cw_lead_response_move(&faint, 1e-4, 0);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    faint.noise[i] = cabs(before.value[i]) * 1e-2;
  g_assert_true(isnan(cw_lead_response_change_db(&faint, &before, 100, 10000, 3, false)));
  g_assert_cmpfloat_with_epsilon(cw_lead_response_change_db(&faint, &before, 100, 10000, 3, true), -40, 1e-9);
  /* Fewer than four points are no range. */
  g_assert_true(isnan(cw_lead_response_change_db(&now, &before, 1000, 1050, 10, false)));
  g_assert_true(isnan(cw_lead_response_change_db(&now, &before, 8000, 1000, 10, false)));
}

/* Loudest and quiet level of blocks: of 20 blocks of a twentieth of a second five are silent, and one is
 * loud. */
static void test_levels(void)
{
  size_t block = (size_t)(0.05 * RADIO_RATE_HZ), frames = 20 * block;
  double *samples = cw_alloc_real(frames);
  CwAcceptedLead lead = {0};
  for (size_t i = 0; i < frames; i++)
    samples[i] = (i / block < 5 ? 1e-3 : i / block == 7 ? 0.5 : 0.1) * (i % 2 ? 1 : -1);
  cw_accepted_lead_levels(samples, frames, RADIO_RATE_HZ, &lead);
  g_assert_cmpfloat_with_epsilon(lead.loudest_rms, 0.5, 1e-12);
  g_assert_cmpfloat_with_epsilon(lead.quiet_rms, 1e-3, 1e-12);
  cw_accepted_lead_levels(samples, block - 1, RADIO_RATE_HZ, &lead);
  g_assert_cmpfloat(lead.loudest_rms, ==, 0);
  g_assert_cmpfloat(lead.quiet_rms, ==, 0);
  cw_free(samples);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/lead-response-change/moved", test_moved);
  g_test_add_func("/survey/lead-response-change/delayed", test_delayed);
  g_test_add_func("/survey/lead-response-change/too-little", test_too_little);
  g_test_add_func("/survey/lead-response-change/both", test_both);
  g_test_add_func("/survey/lead-response-change/change", test_change);
  g_test_add_func("/survey/lead-response-change/levels", test_levels);
  return g_test_run();
}
