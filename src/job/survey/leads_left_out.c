/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Leads left out of the mix and taken in again, with what hands changed in the inputs. */
#include "job/findings/review.h"
#include "job/survey/survey_mix.h"

static CwList *inputs_of(CwRecord *tune)
{
  return tune ? cw_tune_get_inputs(tune) : NULL;
}

static CwRecord *input_of_lead(CwList *inputs, gint64 lead)
{
  return inputs && lead != CW_NO_INTEGER
             ? cw_list_find_integer_at(inputs, CW_INPUT_CORRECTION_FIELD_LEAD, lead)
             : NULL;
}

static CwRecord *correction_of(CwRecord *vehicle)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  return survey ? cw_survey_get_correction(survey) : NULL;
}

static gboolean same_sections(CwRecord *one, CwRecord *other)
{
  CwList *a = cw_input_correction_get_sections(one), *b = cw_input_correction_get_sections(other);
  gboolean same = cw_list_get_length(a) == cw_list_get_length(b);
  for (guint i = 0; same && i < cw_list_get_length(a); i++)
    same = cw_record_equal(cw_list_get(a, i), cw_list_get(b, i));
  return same;
}

static void take_sections(CwRecord *to, CwRecord *from)
{
  CwList *list = cw_input_correction_get_sections(to), *source = cw_input_correction_get_sections(from);
  cw_list_clear(list);
  for (guint i = 0; i < cw_list_get_length(source); i++) {
    g_autoptr(CwRecord) copy = cw_record_copy(cw_list_get(source, i));
    cw_list_append(list, copy);
  }
}

static gboolean keep_number(CwRecord *to, CwRecord *hand, CwRecord *model, CwFieldId id)
{
  double by_hand = cw_record_get_number_at(hand, id);
  if (by_hand == cw_record_get_number_at(model, id))
    return FALSE;
  cw_record_set_number_at(to, id, by_hand);
  return TRUE;
}

/* Brings what hands changed against the model into another input, value by value. TRUE if there was
 * anything. */
static gboolean keep(CwRecord *to, CwRecord *hand, CwRecord *model)
{
  gboolean any = keep_number(to, hand, model, CW_INPUT_CORRECTION_FIELD_GAIN_DB);
  if (keep_number(to, hand, model, CW_INPUT_CORRECTION_FIELD_DELAY_SAMPLES)) {
    cw_input_correction_set_delay_ms(to, cw_input_correction_get_delay_ms(hand));
    any = TRUE;
  }
  if (cw_input_correction_get_polarity(hand) != cw_input_correction_get_polarity(model)) {
    cw_input_correction_set_polarity(to, cw_input_correction_get_polarity(hand));
    any = TRUE;
  }
  if (!cw_record_equal(cw_input_correction_make_mix(hand), cw_input_correction_make_mix(model))) {
    cw_record_assign(cw_input_correction_make_mix(to), cw_input_correction_get_mix(hand));
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
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  return survey ? cw_list_find_integer_at(cw_survey_get_leads(survey), CW_LEAD_FIELD_LEAD, number) : NULL;
}

/* The inputs as they stood, onto those of the new mix; what has no place there is set aside with its lead. */
static void keep_all(CwRecord *vehicle, CwRecord *tune_before, CwRecord *correction_before,
                     CwHandOutcome *outcome)
{
  CwList *before = inputs_of(tune_before), *inputs = inputs_of(cw_vehicle_get_tune(vehicle)),
         *advised = correction_before ? cw_correction_get_inputs(correction_before) : NULL;
  for (guint i = 0; before && i < cw_list_get_length(before); i++) {
    CwRecord *hand = cw_list_get(before, i);
    gint64 number = cw_input_correction_get_lead(hand);
    CwRecord *model = input_of_lead(advised, number), *now = input_of_lead(inputs, number),
             *lead = number == CW_NO_INTEGER ? NULL : lead_of(vehicle, number);
    if (model && now && keep(now, hand, model))
      outcome->kept++;
    if (lead && !now && !(model && cw_record_equal(model, hand))) {
      g_autoptr(CwRecord) copy = cw_record_copy(hand);
      cw_lead_set_set_aside(lead, copy);
      outcome->set_aside++;
    }
  }
}

/* Leads that are in the mix again get what was set aside: filters and gain, which are a lead's own; delay,
 * polarity and place belong to the mix. */
static void restore(CwRecord *vehicle, CwRecord *tune_before, CwHandOutcome *outcome)
{
  CwList *inputs = inputs_of(cw_vehicle_get_tune(vehicle)), *before = inputs_of(tune_before);
  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++) {
    CwRecord *input = cw_list_get(inputs, i);
    gint64 number = cw_input_correction_get_lead(input);
    CwRecord *lead = lead_of(vehicle, number), *aside = lead ? cw_lead_get_set_aside(lead) : NULL;
    if (!aside || input_of_lead(before, number))
      continue;
    take_sections(input, aside);
    cw_input_correction_set_gain_db(input, cw_input_correction_get_gain_db(aside));
    cw_lead_set_set_aside(lead, NULL);
    outcome->restored++;
  }
}

gboolean cw_job_skip_lead(CwRecord *vehicle, gint64 number, gboolean skipped, CwHandOutcome *outcome)
{
  CwRecord *lead = lead_of(vehicle, number), *tune = cw_vehicle_get_tune(vehicle),
           *correction = correction_of(vehicle);
  CwHandOutcome own = {0};

  if (!lead)
    return FALSE;
  g_autoptr(CwRecord) tune_before = tune ? cw_record_copy(tune) : NULL,
                      correction_before = correction ? cw_record_copy(correction) : NULL;
  cw_lead_set_skipped(lead, skipped);
  cw_job_mix_survey(cw_vehicle_get_survey(vehicle), cw_vehicle_get_processor(vehicle));
  cw_job_apply_correction(vehicle);
  keep_all(vehicle, tune_before, correction_before, &own);
  restore(vehicle, tune_before, &own);
  cw_job_review(vehicle);
  if (outcome)
    *outcome = own;
  return TRUE;
}
