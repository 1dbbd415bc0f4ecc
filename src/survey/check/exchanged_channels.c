/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/survey_private.h"
#include <math.h>
#include <stdlib.h>

#define ALIKE_DB 0.3    /* root mean square, of two responses that may be one lead's */
#define ALIKE_PART 0.35 /* of its distance to the lead named, that another lead must be nearer */
#define APART_DB 0.08   /* a distance that noise does not make */

static double shape_apart(const CwAcceptedTake *take, size_t i, const CwAcceptedTake *main, int lead)
{
  const CwAcceptedLead *before = cw_accepted_take_lead(main, lead);
  CwLeadResponse a, b;
  double level, shape;

  if (!before)
    return NAN;
  cw_accepted_lead_sum(take, &take->lead[i], &a);
  cw_accepted_lead_sum(main, before, &b);
  return cw_lead_response_shapes(&a, &b, &level, &shape) ? shape : NAN;
}

/* The lead that a channel of a take really holds, by the fine response in the take of the leads: the
 * channel's own unless another is much nearer. */
static int lead_held(const CwAcceptedTake *take, size_t i, const CwAcceptedTake *main)
{
  double own = shape_apart(take, i, main, take->lead[i].lead), best = INFINITY;
  int lead = take->lead[i].lead;

  for (size_t k = 0; k < main->leads; k++) {
    double apart =
        main->lead[k].lead == take->lead[i].lead ? NAN : shape_apart(take, i, main, main->lead[k].lead);
    if (apart < best && apart < ALIKE_DB) {
      best = apart;
      lead = main->lead[k].lead;
    }
  }
  bool other = isnan(own) ? false : own > APART_DB && best < ALIKE_PART * own;
  return other ? lead : take->lead[i].lead;
}

typedef struct {
  int one, other; /* leads */
} Exchange;

static void note_exchange(Exchange *list, size_t *count, int one, int other)
{
  int low = one < other ? one : other, high = one < other ? other : one;
  for (size_t i = 0; i < *count; i++)
    if (list[i].one == low && list[i].other == high)
      return;
  if (*count < 8)
    list[(*count)++] = (Exchange){low, high};
}

static void exchange(CwAcceptedTake *take, const Exchange *e)
{
  for (size_t i = 0; i < take->leads; i++)
    take->lead[i].lead = take->lead[i].lead == e->one     ? e->other
                         : take->lead[i].lead == e->other ? e->one
                                                          : take->lead[i].lead;
}

static bool holds_both(const CwAcceptedTake *take, const Exchange *e)
{
  return cw_accepted_take_lead(take, e->one) && cw_accepted_take_lead(take, e->other);
}

/* Whether every other take holds two leads the other way round: then it is the take of the leads itself in
 * which they are exchanged. */
static bool all_exchanged(const CwLeadSurvey *survey, const CwAcceptedTake *main, const Exchange *e)
{
  size_t agreeing = 0;

  for (guint t = 0; t < survey->takes->len; t++) {
    const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    bool swapped = false, straight = false;
    if (take->kind == CW_STIMULUS_LEADS || take->unplaced || !holds_both(take, e))
      continue;
    for (size_t i = 0; i < take->leads; i++)
      if (take->lead[i].lead == e->one || take->lead[i].lead == e->other) {
        int held = lead_held(take, i, main), partner = take->lead[i].lead == e->one ? e->other : e->one;
        swapped = swapped || held == partner;
        straight = straight || (held == take->lead[i].lead && shape_apart(take, i, main, held) < ALIKE_DB);
      }
    if (straight)
      return false;
    agreeing += swapped; /* where the fader silences both, nothing is seen of it */
  }
  return agreeing > 1;
}

static CwTrouble exchange_of(CwStimulusKind kind, const Exchange *e)
{
  CwTrouble t = cw_survey_trouble(CW_TROUBLE_CHANNELS_EXCHANGED, (int)kind);
  t.lead = e->one;
  t.other = e->other;
  return t;
}

static int by_number(const void *a, const void *b)
{
  return ((const CwAcceptedLead *)a)->lead - ((const CwAcceptedLead *)b)->lead;
}

void cw_survey_put_channels_right(CwLeadSurvey *survey, CwAcceptedTake *main, CwSurveyResult *r)
{
  for (guint t = 0; t < survey->takes->len; t++) {
    CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    Exchange list[8];
    size_t count = 0;
    if (take->kind == CW_STIMULUS_LEADS || take->unplaced)
      continue;
    for (size_t i = 0; i < take->leads; i++) {
      int held = lead_held(take, i, main);
      if (held != take->lead[i].lead)
        note_exchange(list, &count, held, take->lead[i].lead);
    }
    for (size_t k = 0; k < count; k++) {
      if (all_exchanged(survey, main, &list[k])) {
        exchange(main, &list[k]);
        qsort(main->lead, main->leads, sizeof *main->lead, by_number);
        CwTrouble told = exchange_of(CW_STIMULUS_LEADS, &list[k]);
        cw_survey_add_trouble(r, &told);
        t = (guint)-1; /* look at all takes anew */
        break;
      }
      exchange(take, &list[k]);
      if (take->troubles <
          CW_TAKE_TROUBLES) /* it stays with the take: the next conclusion finds it put right */
        take->trouble[take->troubles++] = exchange_of(take->kind, &list[k]);
    }
  }
}
