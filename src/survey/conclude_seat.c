/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/survey_private.h"
#include <math.h>

#define LEAST_SECONDS 0.1e-3 /* between left and right, for a seat setting to be on: speakers are further apart than 3 cm */
#define ALIKE_OCTAVES 0.5    /* within which the edges of a left and a right lead of one pair lie */

static bool alike(double one_hz, double other_hz)
{
  return (isnan(one_hz) && isnan(other_hz)) || fabs(log2(one_hz / other_hz)) < ALIKE_OCTAVES;
}

/* The lead on the other side that carries the same end and band; NULL for none. */
static const CwSurveyedLead *partner(const CwSurveyResult *r, const CwSurveyedLead *left)
{
  for (size_t i = 0; i < r->leads; i++) {
    const CwSurveyedLead *l = &r->lead[i];
    if (l->side == CW_LEAD_RIGHT && l->end == left->end && l->band == left->band && !isnan(l->delay_seconds) && alike(l->high_hz, left->high_hz))
      return l;
  }
  return NULL;
}

/* Every pair of left and right is apart, all in the same direction: nothing but a seat setting does that. */
static void judge_pairs(CwSurveyResult *r)
{
  size_t pairs = 0, later[2] = {0, 0};
  double sum = 0;

  for (size_t i = 0; i < r->leads; i++) {
    const CwSurveyedLead *l = &r->lead[i], *mate = l->side == CW_LEAD_LEFT && !isnan(l->delay_seconds) ? partner(r, l) : NULL;
    if (!mate)
      continue;
    double apart = l->delay_seconds - mate->delay_seconds;
    pairs++;
    later[apart < 0] += fabs(apart) > LEAST_SECONDS;
    sum += fabs(apart);
  }
  if (pairs == 0 || (later[0] < pairs && later[1] < pairs))
    return;
  r->seat_found = true;
  r->seat_side = later[0] == pairs ? CW_LEAD_LEFT : CW_LEAD_RIGHT;
  r->seat_delay_seconds = sum / (double)pairs;
}

/* The largest change of a lead's delay between two settings. */
static void judge_settings(CwSurveyResult *r, const CwSurveyResult *other)
{
  for (size_t i = 0; i < r->leads; i++)
    for (size_t k = 0; k < other->leads; k++) {
      const CwSurveyedLead *one = &r->lead[i], *two = &other->lead[k];
      double apart = two->delay_seconds - one->delay_seconds;
      if (one->lead != two->lead || isnan(apart) || fabs(apart) < LEAST_SECONDS || fabs(apart) <= fabs(r->seat_delay_seconds))
        continue;
      r->seat_found = true;
      r->seat_delay_seconds = apart;
      r->seat_side = one->side;
    }
}

void cw_survey_conclude_seat(CwSurveyResult *result, const CwSurveyResult *other)
{
  judge_pairs(result);
  if (other && !result->seat_found)
    judge_settings(result, other);
}
