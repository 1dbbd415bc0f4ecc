/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "radio.h"
#include "survey/leads/lead_model.h"

#include <math.h>
#include <string.h>

#define POINTS 120

typedef struct {
  double hz[POINTS], weight[POINTS];
  CwComplex value[POINTS];
  CwModelTarget target;
} Points;

/* A sixteenth of a kilohertz to 18 kHz, all of one weight, and a radio's lead as what is to be met. */
static void make_points(Points *p, const RadioLead *lead, double weight)
{
  for (size_t i = 0; i < POINTS; i++) {
    p->hz[i] = 20 * pow(900, (double)i / (POINTS - 1));
    p->weight[i] = weight;
    p->value[i] = lead ? radio_response(lead, p->hz[i], 0) : 1;
  }
  p->target = (CwModelTarget){POINTS, p->hz, p->value, p->weight};
}

static double worst_error(const CwLeadModel *m, const Points *p, bool without_delay)
{
  CwComplex response[POINTS];
  double worst = 0;
  cw_lead_model_response(m, p->hz, POINTS, without_delay, response);
  for (size_t i = 0; i < POINTS; i++)
    worst = MAX(worst, cabs(response[i] - p->value[i]));
  return worst;
}

/* A part is the section of its kind by the bilinear transform, whose sections the signal room's tests hold
 * against scipy: low-passes, high-passes, the all-pass. */
static void test_parts(void)
{
  static const struct {
    CwPartKind part;
    CwSectionKind section;
  } kinds[] = {{CW_PART_HIGH_PASS_FIRST, CW_SECTION_HIGH_PASS_FIRST},
               {CW_PART_LOW_PASS_FIRST, CW_SECTION_LOW_PASS_FIRST},
               {CW_PART_HIGH_PASS, CW_SECTION_HIGH_PASS},
               {CW_PART_LOW_PASS, CW_SECTION_LOW_PASS},
               {CW_PART_ALL_PASS, CW_SECTION_ALL_PASS}};
  for (size_t k = 0; k < G_N_ELEMENTS(kinds); k++)
    for (double hz = 30; hz < 15000; hz *= 2.3)
      for (double q = 0.45; q < 4; q *= 1.7) {
        RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.7, 0);
        CwLeadModel m = cw_lead_model_new(RADIO_RATE_HZ, 0.7);
        Points p;
        radio_add_section(&lead, kinds[k].section, hz, 0, q);
        make_points(&p, &lead, 1);
        cw_lead_model_add(&m, kinds[k].part, hz, q);
        g_assert_cmpfloat(worst_error(&m, &p, false), <, 1e-9);
        g_assert_cmpfloat_with_epsilon(cw_lead_model_part_hz(&m, 0), hz, 1e-9 * hz);
        if (kinds[k].part != CW_PART_HIGH_PASS_FIRST && kinds[k].part != CW_PART_LOW_PASS_FIRST)
          g_assert_cmpfloat_with_epsilon(cw_lead_model_part_q(&m, 0), q, 1e-9);
      }
}

/* A shape of a gain is the Cookbook's peaking section of that gain: zeros of Q / A, poles of Q A. Within the
 * Qs that a shape may have. */
static void test_shape(void)
{
  for (double hz = 60; hz < 9000; hz *= 2.9)
    for (double gain_db = -9; gain_db <= 9; gain_db += 6) {
      RadioLead lead = radio_lead(CW_PLAYED_LEFT, 1, 0);
      CwLeadModel m = cw_lead_model_new(RADIO_RATE_HZ, 1);
      Points p;
      radio_add_section(&lead, CW_SECTION_PEAKING, hz, gain_db, 1.4);
      make_points(&p, &lead, 1);
      cw_lead_model_add_shape(&m, hz, gain_db, 1.4);
      g_assert_cmpfloat(worst_error(&m, &p, false), <, 1e-9);
    }
}

/* Filters of the families are the crossovers of the signal room, at every order, and stay in one piece when
 * their corner moves: the fit finds another corner, and all sections follow. */
static void test_filters(void)
{
  for (int family = 0; family < CW_FILTER_FAMILIES; family++)
    for (int order = 1; order <= 8; order++)
      for (int pass = CW_LOW_PASS; pass <= CW_HIGH_PASS; pass++) {
        CwCoefficients c[CW_CROSSOVER_MOST_SECTIONS];
        CwLeadModel m = cw_lead_model_new(RADIO_RATE_HZ, 1);
        bool there =
            cw_crossover_design((CwFilterFamily)family, (CwPass)pass, order, 700, RADIO_RATE_HZ, c, NULL);
        g_assert_true(cw_lead_model_add_filter(&m, (CwFilterFamily)family, (CwPass)pass, order, 700) ==
                      there);
        if (!there)
          continue;
        RadioLead lead = radio_lead(CW_PLAYED_LEFT, 1, 0);
        Points p;
        radio_add_filter(&lead, (CwFilterFamily)family, (CwPass)pass, order, 700);
        make_points(&p, &lead, 1);
        g_assert_cmpfloat(worst_error(&m, &p, false), <, 1e-9);
      }
  CwLeadModel m = cw_lead_model_new(RADIO_RATE_HZ, 1);
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 1, 0);
  Points p;
  radio_add_filter(&lead, CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, 8, 1100);
  make_points(&p, &lead, 500);
  for (size_t i = 0; i < POINTS; i++)
    p.weight[i] = cabs(p.value[i]) > 1e-3 ? 500 : 0; /* 60 dB down nothing is known of a lead */
  g_assert_true(cw_lead_model_add_filter(&m, CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, 8, 700));
  cw_lead_model_fit(&m, &p.target, false, 60);
  for (size_t part = 0; part < m.parts; part++)
    g_assert_cmpfloat_with_epsilon(cw_lead_model_part_hz(&m, part), 1100, 1100 * 1e-4);
}

/* Delay and polarity turn the phase alone, and can be left out. */
static void test_delay(void)
{
  RadioLead late = radio_lead(CW_PLAYED_LEFT, -0.5, 3.21e-3), prompt = radio_lead(CW_PLAYED_LEFT, 0.5, 0);
  CwLeadModel m = cw_lead_model_new(RADIO_RATE_HZ, 0.5);
  Points p;
  m.polarity = -1;
  m.var[1] = 3.21e-3 / CW_MODEL_DELAY_SECONDS;
  g_assert_cmpfloat_with_epsilon(cw_lead_model_delay_seconds(&m), 3.21e-3, 1e-15);
  make_points(&p, &late, 1);
  g_assert_cmpfloat(worst_error(&m, &p, false), <, 1e-9);
  make_points(&p, &prompt, 1);
  g_assert_cmpfloat(worst_error(&m, &p, true), <, 1e-9);
}

/* A model of the right parts finds the truth from a third of an octave off, with the phase and without. */
static void test_fit(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.3, 40e-6);
  Points p;
  radio_add_section(&lead, CW_SECTION_HIGH_PASS, 90, 0, 0.8);
  radio_add_section(&lead, CW_SECTION_PEAKING, 1500, -4, 1.4);
  radio_add_section(&lead, CW_SECTION_LOW_PASS, 6000, 0, 0.6);
  make_points(&p, &lead, 500);
  for (int with_phase = 0; with_phase < 2; with_phase++) {
    CwLeadModel m = cw_lead_model_new(RADIO_RATE_HZ, 0.35);
    double magnitude[POINTS], phase[POINTS], cost;
    cw_lead_model_add(&m, CW_PART_HIGH_PASS, 110, 0.7);
    cw_lead_model_add(&m, CW_PART_LOW_PASS, 5000, 0.7);
    cw_lead_model_add_shape(&m, 1300, -2, 1.4);
    cost = cw_lead_model_fit(&m, &p.target, with_phase, 100);
    g_test_message("cost %g", cost);
    cw_lead_model_errors(&m, &p.target, magnitude, phase);
    for (size_t i = 0; i < POINTS; i++) {
      /* What keeps idle parts idle is worth a twelfth of a neper: at this weight, a ten-thousandth. */
      g_assert_cmpfloat(fabs(magnitude[i]), <, 2e-4);
      if (with_phase)
        g_assert_cmpfloat(fabs(phase[i]), <, 2e-4);
    }
    if (with_phase)
      g_assert_cmpfloat_with_epsilon(cw_lead_model_delay_seconds(&m), 40e-6, 0.2e-6);
    else
      g_assert_cmpfloat(m.var[1], ==, 0);
    g_assert_cmpfloat_with_epsilon(cw_lead_model_part_hz(&m, 0), 90, 0.1);
    cw_lead_model_errors(&m, &p.target, NULL, NULL); /* either may be left out, both too */
  }
}

/* With nothing but gain and delay free, the delay's deviation follows from the phases alone: 1 over the root
 * of the sum of (2 pi f w)^2. Nothing holds it where no point counts. */
static void test_deviation(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.3, 0);
  CwLeadModel m = cw_lead_model_new(RADIO_RATE_HZ, 0.3);
  Points p;
  double sum = 0;
  make_points(&p, &lead, 0);
  g_assert_true(isinf(cw_lead_model_delay_deviation(&m, &p.target)));
  for (size_t i = 0; i < POINTS; i++) {
    p.weight[i] = 10 + (double)(i % 7);
    sum += pow(2 * G_PI * p.hz[i] * p.weight[i], 2);
  }
  g_assert_cmpfloat_with_epsilon(cw_lead_model_delay_deviation(&m, &p.target) * sqrt(sum), 1, 1e-6);
  /* Each part that is free besides makes it less sure, and halving the weights doubles it. */
  double before = cw_lead_model_delay_deviation(&m, &p.target);
  cw_lead_model_add(&m, CW_PART_LOW_PASS, 15000, 0.7);
  double with_part = cw_lead_model_delay_deviation(&m, &p.target);
  g_assert_cmpfloat(with_part, >, 1.5 * before);
  for (size_t i = 0; i < POINTS; i++)
    p.weight[i] *= 0.5;
  g_assert_cmpfloat_with_epsilon(cw_lead_model_delay_deviation(&m, &p.target), 2 * with_part,
                                 1e-3 * with_part);
}

/* Variables stay within their bounds whatever the target asks, and a full model takes no more parts. */
static void test_bounds(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 1, 0);
  CwLeadModel m = cw_lead_model_new(RADIO_RATE_HZ, 1);
  Points p;
  radio_add_section(&lead, CW_SECTION_PEAKING, 5000, 14, 12);
  make_points(&p, &lead, 500);
  m.shape_most_hz = 3000;
  cw_lead_model_add_shape(&m, 2500, 6, 2);
  cw_lead_model_fit(&m, &p.target, true, 60);
  for (size_t v = 0; v < m.vars; v++) {
    g_assert_cmpfloat(m.var[v], >=, m.least[v]);
    g_assert_cmpfloat(m.var[v], <=, m.most[v]);
  }
  g_assert_cmpfloat(cw_lead_model_part_hz(&m, 0), <=, 3000 * (1 + 1e-9));
  while (m.parts < CW_MODEL_MOST_PARTS)
    cw_lead_model_add(&m, CW_PART_HIGH_PASS, 100, 0.7);
  size_t vars = m.vars;
  cw_lead_model_add(&m, CW_PART_HIGH_PASS, 100, 0.7);
  cw_lead_model_add_shape(&m, 100, 3, 1);
  g_assert_false(cw_lead_model_add_filter(&m, CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, 2, 100));
  g_assert_cmpuint(m.parts, ==, CW_MODEL_MOST_PARTS);
  g_assert_cmpuint(m.vars, ==, vars);
  g_assert_false(cw_lead_model_add_filter(&m, CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, 3, 100));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/lead-model/parts", test_parts);
  g_test_add_func("/survey/lead-model/shape", test_shape);
  g_test_add_func("/survey/lead-model/filters", test_filters);
  g_test_add_func("/survey/lead-model/delay", test_delay);
  g_test_add_func("/survey/lead-model/fit", test_fit);
  g_test_add_func("/survey/lead-model/deviation", test_deviation);
  g_test_add_func("/survey/lead-model/bounds", test_bounds);
  return g_test_run();
}
