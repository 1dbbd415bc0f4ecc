/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/reason.h"
#include "tuning/proposal/section_count.h"
#include <math.h>

#define SEEN_DB 1.0              /* what stands out less is not seen */
#define WITHIN_OCTAVES (1.0 / 6) /* to either side, of what a section works on */
#define AROUND_OCTAVES 1.0       /* to either side, of what it is compared with */

/* Mean level of an output alone at a place between two distances from hz, dB; NAN where it has no bins. */
static double level_db(const CwCar *car, const CwComplex *response, double hz, double from_octaves,
                       double to_octaves)
{
  double step_hz = car->rate_hz / (double)car->length, sum = 0, weight = 0;
  size_t first = (size_t)fmax(1, hz * exp2(-to_octaves) / step_hz),
         last = (size_t)(hz * exp2(to_octaves) / step_hz) + 1;

  for (size_t k = first; k <= last && k <= car->length / 2; k++) {
    double apart = fabs(log2((double)k * step_hz / hz));
    if (apart < from_octaves || apart > to_octaves)
      continue;
    sum += (creal(response[k]) * creal(response[k]) + cimag(response[k]) * cimag(response[k])) / (double)k;
    weight += 1 / (double)k;
  }
  return weight > 0 && sum > 0 ? 10 * log10(sum / weight) : NAN;
}

/* The places where the output by itself stands out there to the side that the section takes back. */
static unsigned seen_at(const CwCar *car, size_t output, const CwSection *section)
{
  unsigned seen = 0;

  for (size_t p = 0; p < car->places && p < 8 * sizeof seen; p++) {
    const CwComplex *response = car->output[output].response[p];
    if (!response)
      continue;
    double out_db = level_db(car, response, section->frequency_hz, 0, WITHIN_OCTAVES) -
                    level_db(car, response, section->frequency_hz, WITHIN_OCTAVES, AROUND_OCTAVES);
    if (section->gain_db < 0 ? out_db > SEEN_DB : out_db < -SEEN_DB)
      seen |= 1u << p;
  }
  return seen;
}

void cw_reason_find(const CwProposalWork *m, const CwFitState *state, CwSectionReason *reason)
{
  CwFitResult with = cw_fit_evaluate(&m->problem, state);
  CwFitState *tried = cw_fit_state_copy(state);

  for (size_t o = 0; o < state->outputs; o++)
    for (size_t k = 0; k < state->setting[o].sections && !m->problem.cancelled(m->problem.cancel_data); k++) {
      CwSectionReason *r = &reason[o * CW_SETTING_MOST_SECTIONS + k];
      const CwSection *s = &state->setting[o].section[k];
      tried->setting[o] = state->setting[o];
      cw_section_count_drop(&tried->setting[o], k);
      CwFitResult without = cw_fit_evaluate(&m->problem, tried);
      r->without_db = fmax(fmax(without.side_db - with.side_db, without.both_db - with.both_db),
                           fmax(without.match_db - with.match_db, 0));
      r->seen = s->kind == CW_SECTION_PEAKING ? seen_at(m->input->car, o, s) : 0;
      tried->setting[o] = state->setting[o];
    }
  cw_fit_state_free(tried);
}
