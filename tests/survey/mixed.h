/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Leads at the points of their told response, made of sections and filters that are known. */
#pragma once
#include "signal/filters/crossover.h"
#include "survey/mix/mix.h"
#include <glib.h>
#include <math.h>

#define RATE_HZ 48000.0

/* A lead whose response is that of some coefficients; edges as given. */
static inline CwMixLead lead_of(int number, int side, int end, double gain, double delay_seconds,
                                const CwCoefficients *cascade, size_t sections, double low_hz, double high_hz)
{
  CwMixLead lead = {.lead = number,
                    .side = side,
                    .end = end,
                    .band = CW_BAND_FULL,
                    .usable = true,
                    .low_hz = low_hz,
                    .high_hz = high_hz,
                    .delay_seconds = delay_seconds,
                    .polarity = gain < 0 ? -1 : 1,
                    .all_pass_hz = NAN,
                    .all_pass_q = NAN};
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    double hz = cw_mix_hz(i);
    lead.value[i] = gain;
    for (size_t s = 0; s < sections; s++)
      lead.value[i] *= cw_coefficients_response(&cascade[s], hz, RATE_HZ);
  }
  return lead;
}

static inline CwMixLead flat_lead(int number, int side, int end, double gain, double delay_seconds)
{
  return lead_of(number, side, end, gain, delay_seconds, NULL, 0, NAN, NAN);
}

/* A way of a fourth-order Linkwitz-Riley crossover, whose ways add up flat (Linkwitz, JAES 24, 1976). */
static inline CwMixLead way(int number, int side, CwPass pass, double hz, double gain, double delay_seconds)
{
  CwCoefficients cascade[CW_CROSSOVER_MOST_SECTIONS];
  size_t sections = cw_crossover_design(CW_FILTER_LINKWITZ_RILEY, pass, 4, hz, RATE_HZ, cascade, NULL);
  return lead_of(number, side, CW_END_FRONT, gain, delay_seconds, cascade, sections,
                 pass == CW_HIGH_PASS ? hz : NAN, pass == CW_LOW_PASS ? hz : NAN);
}

static inline double db_of(CwComplex value)
{
  return 20 * log10(cabs(value));
}

static inline void shape(CwMixLead *lead, const CwSection *section, size_t sections)
{
  for (size_t s = 0; s < sections; s++) {
    CwCoefficients c;
    g_assert_true(cw_section_design(&section[s], RATE_HZ, &c));
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      lead->value[i] *= cw_coefficients_response(&c, cw_mix_hz(i), RATE_HZ);
  }
}
