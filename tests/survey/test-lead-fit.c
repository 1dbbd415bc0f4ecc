/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "../signal/signals.h"
#include "radio.h"
#include "survey/leads/lead_fit.h"

/* What the methods ask of a survey: 10 us for a lead's delay, 25 us for one with an all-pass. */
#define DELAY_BAR 10e-6
#define ALL_PASS_DELAY_BAR 25e-6

/* Leads of every make: what a radio's crossover, tone and time alignment leave of a track. */
static RadioLead make_lead(size_t number)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, number % 2 ? -0.4 : 0.7, 1e-3 * (double)number + 1.7e-5);
  switch (number) {
  case 0: /* full range, as it comes */
    break;
  case 1:
    radio_add_filter(&lead, CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, 2, 80);
    radio_add_section(&lead, CW_SECTION_PEAKING, 3000, 5, 1);
    radio_add_section(&lead, CW_SECTION_PEAKING, 800, -3, 2);
    break;
  case 2:
    radio_add_filter(&lead, CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, 4, 3000);
    break;
  case 3:
    radio_add_filter(&lead, CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, 4, 3000);
    radio_add_filter(&lead, CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, 2, 60);
    break;
  case 4:
    radio_add_filter(&lead, CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, 3, 200);
    radio_add_filter(&lead, CW_FILTER_BUTTERWORTH, CW_LOW_PASS, 3, 4000);
    radio_add_section(&lead, CW_SECTION_PEAKING, 900, 4, 1.5);
    break;
  default:
    radio_add_section(&lead, CW_SECTION_LOW_SHELF, 120, 6, 0.7);
    radio_add_section(&lead, CW_SECTION_HIGH_SHELF, 6000, -4, 0.7);
    break;
  }
  return lead;
}

#define LEADS 6

/* The response of a lead to which noise was added that is what noise_part says. */
static void hear(const RadioLead *lead, double noise_part, uint64_t seed, CwLeadResponse *r)
{
  CwRandom random = cw_random_new(seed);
  radio_ideal(lead, noise_part, r);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    r->value[i] += M_SQRT1_2 * r->noise[i] * (cw_random_normal(&random) + I * cw_random_normal(&random));
}

/* Delay and polarity, with noise 60 dB below the top; no all-pass is seen where there is none; the model's
 * magnitude is the lead's to the 0.4 dB of the methods. */
static void test_leads(void)
{
  for (size_t k = 0; k < LEADS; k++) {
    RadioLead lead = make_lead(k);
    CwLeadResponse r;
    hear(&lead, 1e-3, k + 1, &r);
    CwLeadFit fit = cw_lead_fit(&r, RADIO_RATE_HZ);
    g_test_message("lead %zu: %.2f us off, deviation %.2f us, errors %.5f %.5f", k,
                   1e6 * (fit.delay_seconds - lead.delay_seconds), 1e6 * fit.delay_deviation_seconds,
                   fit.magnitude_error, fit.phase_error);
    g_assert_true(fit.known && fit.sure);
    g_assert_false(fit.all_pass);
    g_assert_cmpfloat(fit.polarity, ==, lead.gain < 0 ? -1 : 1);
    g_assert_cmpfloat_with_epsilon(fit.delay_seconds, lead.delay_seconds, DELAY_BAR);
    g_assert_cmpfloat(fit.magnitude_error, <, 0.4 * M_LN10 / 20);
  }
}

/* An all-pass is found with its frequency and Q, and its delay is not taken for the lead's. */
static void test_all_pass(void)
{
  static const double at[] = {300, 1200, 4500}, q[] = {0.7, 1.1, 2};
  for (size_t k = 0; k < G_N_ELEMENTS(at); k++) {
    RadioLead lead = make_lead(k ? 1 : 0);
    CwLeadResponse r;
    radio_add_section(&lead, CW_SECTION_ALL_PASS, at[k], 0, q[k]);
    hear(&lead, 1e-3, 10 + k, &r);
    CwLeadFit fit = cw_lead_fit(&r, RADIO_RATE_HZ);
    g_test_message("all-pass %g Hz: %g Hz Q %g, %.2f us off", at[k], fit.all_pass_hz, fit.all_pass_q,
                   1e6 * (fit.delay_seconds - lead.delay_seconds));
    g_assert_true(fit.known && fit.sure && fit.all_pass);
    g_assert_cmpfloat_with_epsilon(log2(fit.all_pass_hz / at[k]), 0, 1.0 / 12);
    g_assert_cmpfloat_with_epsilon(fit.all_pass_q / q[k], 1, 0.1);
    g_assert_cmpfloat(fit.polarity, ==, lead.gain < 0 ? -1 : 1);
    g_assert_cmpfloat_with_epsilon(fit.delay_seconds, lead.delay_seconds, ALL_PASS_DELAY_BAR);
  }
}

/* The deviation that is told is no less than what the delay really scatters by, over twenty recordings, and
 * no more than four times it: the told noise counts a complex error's both parts, and the floor of the
 * weights stands for errors that these leads do not have. The scatter of twenty is known to a part of 1 /
 * sqrt(38). */
static void test_deviation(void)
{
  static const size_t leads[] = {0, 2, 4};
  enum { ROUNDS = 20 };
  for (size_t k = 0; k < G_N_ELEMENTS(leads); k++) {
    RadioLead lead = make_lead(leads[k]);
    double sum = 0, squares = 0, told = 0;
    for (size_t round = 0; round < ROUNDS; round++) {
      CwLeadResponse r;
      hear(&lead, 1e-2, 100 * k + round, &r);
      CwLeadFit fit = cw_lead_fit(&r, RADIO_RATE_HZ);
      double off = fit.delay_seconds - lead.delay_seconds;
      sum += off / ROUNDS;
      squares += off * off / ROUNDS;
      told += fit.delay_deviation_seconds / ROUNDS;
    }
    double scatter = sqrt(squares - sum * sum);
    g_test_message("lead %zu: scatter %.3f us, told %.3f us, mean %.3f us", leads[k], 1e6 * scatter,
                   1e6 * told, 1e6 * sum);
    g_assert_cmpfloat(scatter, <, told * (1 + 2 / sqrt(38)));
    g_assert_cmpfloat(scatter, >, told / 4);
  }
}

/* What no filter explains is not called sure: an echo that is nearly as loud. */
static void test_unsure(void)
{
  RadioLead lead = make_lead(0), echo = radio_lead(CW_PLAYED_LEFT, 0.65, lead.delay_seconds + 2.9e-3);
  CwLeadResponse r;
  hear(&lead, 1e-3, 3, &r);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    r.value[i] += radio_response(&echo, cw_lead_hz(i), r.peak_seconds);
  CwLeadFit fit = cw_lead_fit(&r, RADIO_RATE_HZ);
  g_assert_true(fit.known);
  g_assert_false(fit.sure);
}

/* Noise alone is not known. */
static void test_unknown(void)
{
  RadioLead lead = make_lead(0);
  CwLeadResponse r;
  hear(&lead, 0.5, 3, &r);
  CwLeadFit fit = cw_lead_fit(&r, RADIO_RATE_HZ);
  g_assert_false(fit.known || fit.sure);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/lead-fit/leads", test_leads);
  g_test_add_func("/survey/lead-fit/all-pass", test_all_pass);
  g_test_add_func("/survey/lead-fit/deviation", test_deviation);
  g_test_add_func("/survey/lead-fit/unsure", test_unsure);
  g_test_add_func("/survey/lead-fit/unknown", test_unknown);
  return g_test_run();
}
