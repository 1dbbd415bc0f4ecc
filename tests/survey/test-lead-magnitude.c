/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "radio.h"
#include "survey/leads/lead_magnitude.h"

#include <math.h>

/* The stretch that is used: a lead 55 dB below its top is out, so is what noise hides, and what lies
 * above 18.5 kHz. */
static void test_stretch(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.5, 0);
  CwLeadResponse r;
  CwLeadLook look;
  radio_add_filter(&lead, CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, 4, 300);
  radio_ideal(&lead, 1e-5, &r);
  g_assert_true(cw_lead_look_at(&r, &look));
  g_assert_cmpfloat(look.hz[look.last], <=, 18500);
  g_assert_cmpfloat(look.hz[look.last] * exp2(1.0 / 24), >, 18500);
  g_assert_cmpfloat_with_epsilon(look.top_db, -6.0206, 0.05);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    double below = look.db[i] - 20 * log10(0.5);
    if (i < look.first || i > look.last)
      g_assert_cmpfloat(look.weight[i], ==, 0);
    else
      g_assert_true(below > -55.1 && look.weight[i] > 0);
  }
  g_assert_cmpfloat(look.db[look.first - 1] + 6.0206, <, -54.9);
  radio_ideal(&lead, 1e-3, &r); /* noise 60 dB down: twenty of them are asked for */
  g_assert_true(cw_lead_look_at(&r, &look));
  g_assert_cmpfloat_with_epsilon(look.db[look.first] + 6.0206, -40, 1.5);
}

/* The weights are those of the header: a floor that doubles 12 dB below the top, and noise beside it. */
static void test_weights(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.5, 0);
  CwLeadResponse r;
  CwLeadLook look;
  radio_ideal(&lead, 0, &r);
  g_assert_true(cw_lead_look_at(&r, &look));
  g_assert_cmpfloat_with_epsilon(look.weight[100] * CW_LEAD_FLOOR, 1, 1e-9);
  radio_ideal(&lead, CW_LEAD_FLOOR, &r); /* as much noise as floor */
  g_assert_true(cw_lead_look_at(&r, &look));
  g_assert_cmpfloat_with_epsilon(look.weight[100] * CW_LEAD_FLOOR, M_SQRT1_2, 1e-9);
  radio_add_filter(&lead, CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, 1, 200);
  radio_ideal(&lead, 0, &r);
  g_assert_true(cw_lead_look_at(&r, &look));
  for (size_t i = look.first; i <= look.last; i++) {
    double depth = MAX(look.top_db - look.db[i], 0) / 12;
    g_assert_cmpfloat_with_epsilon(look.weight[i] * CW_LEAD_FLOOR * (1 + depth * depth), 1, 1e-9);
  }
}

/* A lossy codec ends a track at 16 kHz within less than a point: the stretch ends before it, with a margin.
 */
static void test_cliff(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.5, 0);
  CwLeadResponse r;
  CwLeadLook look;
  radio_ideal(&lead, 1e-5, &r);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    r.value[i] *= cw_lead_hz(i) > 16000 ? 0.02 : 1;
  g_assert_true(cw_lead_look_at(&r, &look));
  g_assert_cmpfloat(look.hz[look.last], <, 16000);
  g_assert_cmpfloat(look.hz[look.last], >, 16000 * exp2(-5.0 / 24));
}

/* Nothing but noise, and too little above it. */
static void test_nothing(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.5, 0);
  CwLeadResponse r;
  CwLeadLook look;
  radio_ideal(&lead, 0.5, &r);
  g_assert_false(cw_lead_look_at(&r, &look));
  radio_ideal(&lead, 1e-4, &r);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    r.noise[i] = i >= 100 && i < 123 ? r.noise[i] : 1;
  g_assert_false(cw_lead_look_at(&r, &look));
  r.noise[123] = 0;
  g_assert_true(cw_lead_look_at(&r, &look));
  g_assert_cmpuint(look.first, ==, 100);
  g_assert_cmpuint(look.last, ==, 123);
}

/* The mean square of weighted errors, and the middle of the largest stretch of them. */
static void test_chi(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.5, 0);
  CwLeadResponse r;
  CwLeadLook look;
  double error[CW_LEAD_POINTS] = {0};
  size_t worst = 0;
  radio_ideal(&lead, 0, &r);
  g_assert_true(cw_lead_look_at(&r, &look));
  g_assert_cmpfloat(cw_lead_chi(&look, error, &worst), ==, 0);
  for (size_t i = 90; i <= 94; i++)
    error[i] = -CW_LEAD_FLOOR;
  error[150] = 2 * CW_LEAD_FLOOR; /* larger, but alone */
  g_assert_cmpfloat_with_epsilon(cw_lead_chi(&look, error, &worst),
                                 9.0 / (double)(look.last - look.first + 1), 1e-9);
  g_assert_cmpuint(worst, ==, 92);
  g_assert_cmpfloat_with_epsilon(cw_lead_chi(&look, error, NULL), 9.0 / (double)(look.last - look.first + 1),
                                 1e-9);
}

/* Root mean square of what a model leaves of a lead's magnitude within 20 dB of its top, dB. */
static double left_db(const RadioLead *lead, CwLeadModel *m)
{
  CwLeadResponse r;
  CwLeadLook look;
  double error[CW_LEAD_POINTS], sum = 0, count = 0;
  radio_ideal(lead, 1e-5, &r);
  g_assert_true(cw_lead_look_at(&r, &look));
  cw_lead_choose_magnitude(m, &look, RADIO_RATE_HZ);
  cw_lead_model_errors(m, &look.target, error, NULL);
  for (size_t i = look.first; i <= look.last; i++)
    if (look.db[i] > look.top_db - 20) {
      sum += error[i] * error[i];
      count++;
    }
  return 20 / M_LN10 * sqrt(sum / count);
}

/* Every family and order of both skirts, alone and with shapes between them, is explained to twice the floor
 * that the weights allow, 0.2 % of the value each. */
static void test_skirts(void)
{
  static const struct {
    CwFilterFamily low_family, high_family;
    int low_order, high_order;
    double low_hz, high_hz;
    size_t peaks;
  } cases[] = {
      {CW_FILTER_BUTTERWORTH, CW_FILTER_BUTTERWORTH, 0, 0, 0, 0, 3},
      {CW_FILTER_BUTTERWORTH, CW_FILTER_BUTTERWORTH, 2, 0, 100, 0, 0},
      {CW_FILTER_LINKWITZ_RILEY, CW_FILTER_BUTTERWORTH, 4, 0, 2500, 0, 1},
      {CW_FILTER_BUTTERWORTH, CW_FILTER_LINKWITZ_RILEY, 0, 4, 0, 180, 0},
      {CW_FILTER_BUTTERWORTH, CW_FILTER_BUTTERWORTH, 3, 3, 80, 3000, 1},
      {CW_FILTER_LINKWITZ_RILEY, CW_FILTER_BESSEL, 2, 2, 300, 5000, 2},
      {CW_FILTER_BUTTERWORTH, CW_FILTER_BUTTERWORTH, 1, 1, 150, 4000, 0},
  };
  for (size_t k = 0; k < G_N_ELEMENTS(cases); k++) {
    RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.5, 0);
    CwLeadModel m;
    if (cases[k].low_order)
      radio_add_filter(&lead, cases[k].low_family, CW_HIGH_PASS, cases[k].low_order, cases[k].low_hz);
    if (cases[k].high_order)
      radio_add_filter(&lead, cases[k].high_family, CW_LOW_PASS, cases[k].high_order, cases[k].high_hz);
    for (size_t p = 0; p < cases[k].peaks; p++)
      radio_add_section(&lead, CW_SECTION_PEAKING, 500 * pow(2.5, (double)p), p % 2 ? -4 : 5, 1.5);
    double left = left_db(&lead, &m);
    g_test_message("case %zu: %.4f dB with %zu parts", k, left, m.parts);
    g_assert_cmpfloat(left, <, 20 / M_LN10 * 2 * CW_LEAD_FLOOR);
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/lead-magnitude/stretch", test_stretch);
  g_test_add_func("/survey/lead-magnitude/weights", test_weights);
  g_test_add_func("/survey/lead-magnitude/cliff", test_cliff);
  g_test_add_func("/survey/lead-magnitude/nothing", test_nothing);
  g_test_add_func("/survey/lead-magnitude/chi", test_chi);
  g_test_add_func("/survey/lead-magnitude/skirts", test_skirts);
  return g_test_run();
}
