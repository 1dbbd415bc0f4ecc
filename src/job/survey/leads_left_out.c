/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Leads left out of the mix and taken in again, with what hands changed in the inputs. */
#include "job/findings/review.h"
#include "job/survey/survey_mix.h"

static CwList *inputs_of(CwRecord *holder)
{
  return holder ? cw_record_get_children(holder, "inputs") : NULL;
}

static CwRecord *input_of_lead(CwRecord *holder, gint64 lead)
{
  CwList *inputs = inputs_of(holder);
  return inputs && lead != CW_NO_INTEGER ? cw_list_find_integer(inputs, "lead", lead) : NULL;
}

static CwRecord *correction_of(CwRecord *vehicle)
{
  CwRecord *survey = cw_record_get_child(vehicle, "survey");
  return survey ? cw_record_get_child(survey, "correction") : NULL;
}

static gboolean same_sections(CwRecord *one, CwRecord *other)
{
  CwList *a = cw_record_get_children(one, "sections"), *b = cw_record_get_children(other, "sections");
  gboolean same = cw_list_get_length(a) == cw_list_get_length(b);
  for (guint i = 0; same && i < cw_list_get_length(a); i++)
    same = cw_record_equal(cw_list_get(a, i), cw_list_get(b, i));
  return same;
}

static void take_sections(CwRecord *to, CwRecord *from)
{
  CwList *list = cw_record_get_children(to, "sections"), *source = cw_record_get_children(from, "sections");
  cw_list_clear(list);
  for (guint i = 0; i < cw_list_get_length(source); i++) {
    g_autoptr(CwRecord) copy = cw_record_copy(cw_list_get(source, i));
    cw_list_append(list, copy);
  }
}

static gboolean keep_number(CwRecord *to, CwRecord *hand, CwRecord *model, const char *key)
{
  double by_hand = cw_record_get_number(hand, key);
  if (by_hand == cw_record_get_number(model, key))
    return FALSE;
  cw_record_set_number(to, key, by_hand);
  return TRUE;
}

/* Brings what hands changed against the model into another input, value by value. TRUE if there was
 * anything. */
static gboolean keep(CwRecord *to, CwRecord *hand, CwRecord *model)
{
  gboolean any = keep_number(to, hand, model, "gain_db");
  if (keep_number(to, hand, model, "delay_samples")) {
    cw_record_set_number(to, "delay_ms", cw_record_get_number(hand, "delay_ms"));
    any = TRUE;
  }
  if (cw_record_get_choice(hand, "polarity") != cw_record_get_choice(model, "polarity")) {
    cw_record_set_choice(to, "polarity", cw_record_get_choice(hand, "polarity"));
    any = TRUE;
  }
  if (!cw_record_equal(cw_record_make_child(hand, "mix"), cw_record_make_child(model, "mix"))) {
    cw_record_assign(cw_record_make_child(to, "mix"), cw_record_get_child(hand, "mix"));
    any = TRUE;
  }
  if (!same_sections(hand, model)) {
    take_sections(to, hand);
    any = TRUE;
  }
  return any;
}

static CwRecord *lead_of(CwRecord *vehicle, gint64 number)
{
  CwRecord *survey = cw_record_get_child(vehicle, "survey");
  return survey ? cw_list_find_integer(cw_record_get_children(survey, "leads"), "lead", number) : NULL;
}

/* The inputs as they stood, onto those of the new mix; what has no place there is set aside with its lead. */
static void keep_all(CwRecord *vehicle, CwRecord *tune_before, CwRecord *correction_before,
                     CwHandOutcome *outcome)
{
  CwRecord *tune = cw_record_get_child(vehicle, "tune");
  CwList *before = inputs_of(tune_before);
  for (guint i = 0; before && i < cw_list_get_length(before); i++) {
    CwRecord *hand = cw_list_get(before, i);
    gint64 number = cw_record_get_integer(hand, "lead");
    CwRecord *model = input_of_lead(correction_before, number), *now = input_of_lead(tune, number),
             *lead = number == CW_NO_INTEGER ? NULL : lead_of(vehicle, number);
    if (model && now && keep(now, hand, model))
      outcome->kept++;
    if (lead && !now && !(model && cw_record_equal(model, hand))) {
      g_autoptr(CwRecord) copy = cw_record_copy(hand);
      cw_record_set_child(lead, "set_aside", copy);
      outcome->set_aside++;
    }
  }
}

/* Leads that are in the mix again get what was set aside: filters and gain, which are a lead's own; delay,
 * polarity and place belong to the mix. */
static void restore(CwRecord *vehicle, CwRecord *tune_before, CwHandOutcome *outcome)
{
  CwList *inputs = inputs_of(cw_record_get_child(vehicle, "tune"));
  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++) {
    CwRecord *input = cw_list_get(inputs, i);
    gint64 number = cw_record_get_integer(input, "lead");
    CwRecord *lead = lead_of(vehicle, number), *aside = lead ? cw_record_get_child(lead, "set_aside") : NULL;
    if (!aside || input_of_lead(tune_before, number))
      continue;
    take_sections(input, aside);
    cw_record_set_number(input, "gain_db", cw_record_get_number(aside, "gain_db"));
    cw_record_set_child(lead, "set_aside", NULL);
    outcome->restored++;
  }
}

gboolean cw_job_skip_lead(CwRecord *vehicle, gint64 number, gboolean skipped, CwHandOutcome *outcome)
{
  CwRecord *lead = lead_of(vehicle, number), *tune = cw_record_get_child(vehicle, "tune"),
           *correction = correction_of(vehicle);
  CwHandOutcome own = {0};

  if (!lead)
    return FALSE;
  g_autoptr(CwRecord) tune_before = tune ? cw_record_copy(tune) : NULL,
                      correction_before = correction ? cw_record_copy(correction) : NULL;
  cw_record_set_boolean(lead, "skipped", skipped);
  cw_job_mix_survey(cw_record_get_child(vehicle, "survey"), cw_record_get_child(vehicle, "processor"));
  cw_job_apply_correction(vehicle);
  keep_all(vehicle, tune_before, correction_before, &own);
  restore(vehicle, tune_before, &own);
  cw_job_review(vehicle);
  if (outcome)
    *outcome = own;
  return TRUE;
}
