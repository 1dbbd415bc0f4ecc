/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/survey_private.h"
#include <math.h>

#define LEAST_SECONDS                                                                                        \
  0.1e-3 /* between left and right, for a seat setting to be on: speakers are further apart than 3 cm */
#define OCTAVES_A_DB 0.1
#define ALIKE_OCTAVES 0.5 /* within which the edges of a left and a right lead of one pair lie */

static double edge(double hz, double beyond)
{
  return isnan(hz) ? beyond : hz;
}

/* How different two leads are, in octaves of their edges and decibels of their level. */
static double apart(const CwSurveyedLead *one, const CwSurveyedLead *other)
{
  double octaves = fabs(log2(edge(one->low_hz, 20) / edge(other->low_hz, 20))) +
                   fabs(log2(edge(one->high_hz, 20000) / edge(other->high_hz, 20000)));
  return octaves + OCTAVES_A_DB * fabs(one->level_dbv - other->level_dbv);
}

/* The lead on the other side that is most like one, with the same end and band; NULL for none. */
static const CwSurveyedLead *partner(const CwSurveyResult *r, const CwSurveyedLead *left)
{
  const CwSurveyedLead *best = NULL;

  for (size_t i = 0; i < r->leads; i++) {
    const CwSurveyedLead *l = &r->lead[i];
    if (l->side == CW_SIDE_RIGHT && l->end == left->end && l->band == left->band &&
        !isnan(l->delay_seconds) &&
        fabs(log2(edge(l->high_hz, 20000) / edge(left->high_hz, 20000))) < ALIKE_OCTAVES &&
        (!best || apart(l, left) < apart(best, left)))
      best = l;
  }
  return best;
}

/* Every pair of left and right is apart, all in the same direction: nothing but a seat setting does that. */
static void judge_pairs(CwSurveyResult *r)
{
  size_t pairs = 0, later[2] = {0, 0};
  double sum = 0;

  for (size_t i = 0; i < r->leads; i++) {
    const CwSurveyedLead *l = &r->lead[i],
                         *mate = l->side == CW_SIDE_LEFT && !isnan(l->delay_seconds) ? partner(r, l) : NULL;
    if (!mate)
      continue;
    double late = l->delay_seconds - mate->delay_seconds;
    pairs++;
    later[late < 0] += fabs(late) > LEAST_SECONDS;
    sum += fabs(late);
  }
  if (pairs == 0 || (later[0] < pairs && later[1] < pairs))
    return;
  r->seat_found = true;
  r->seat_side = later[0] == pairs ? CW_SIDE_LEFT : CW_SIDE_RIGHT;
  r->seat_delay_seconds = sum / (double)pairs;
}

/* The largest change of a lead's delay between two settings. */
static void judge_settings(CwSurveyResult *r, const CwSurveyResult *other)
{
  for (size_t i = 0; i < r->leads; i++)
    for (size_t k = 0; k < other->leads; k++) {
      const CwSurveyedLead *one = &r->lead[i], *two = &other->lead[k];
      double late = two->delay_seconds - one->delay_seconds;
      if (one->lead != two->lead || isnan(late) || fabs(late) < LEAST_SECONDS ||
          fabs(late) <= fabs(r->seat_delay_seconds))
        continue;
      r->seat_found = true;
      r->seat_delay_seconds = late;
      r->seat_side = one->side;
    }
}

void cw_survey_conclude_seat(CwSurveyResult *result, const CwSurveyResult *other)
{
  judge_pairs(result);
  result->seat_active = result->seat_found;
  if (other && !result->seat_found)
    judge_settings(result, other);
}
