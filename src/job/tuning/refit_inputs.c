/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/refit_inputs.h"
#include "job/survey/survey_curves.h"
#include "job/survey/survey_mix.h"
#include "processor/filter.h"
#include <math.h>

static CwList *inputs_of(CwRecord *vehicle)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  return tune ? cw_tune_get_inputs(tune) : NULL;
}

static guint count_filters(CwRecord *vehicle)
{
  CwList *inputs = inputs_of(vehicle);
  guint count = 0;
  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++)
    count += cw_list_get_length(cw_input_correction_get_sections(cw_list_get(inputs, i)));
  return count;
}

static void weigh(CwRecord *vehicle, double *flat_db, double *low_hz, double *high_hz)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle),
           *correction = survey ? cw_survey_get_correction(survey) : NULL;
  *flat_db = cw_job_corrected_flatness_db(vehicle);
  *low_hz = correction ? cw_correction_get_low_hz(correction) : NAN;
  *high_hz = correction ? cw_correction_get_high_hz(correction) : NAN;
}

void cw_job_weigh_inputs(CwRecord *vehicle, CwInputsCost *cost)
{
  *cost = (CwInputsCost){.filters_before = count_filters(vehicle)};
  weigh(vehicle, &cost->before_db, &cost->before_low_hz, &cost->before_high_hz);
}

/* Onto the processor's steps; FALSE where it has no such filter, or not so strong a one. */
static gboolean bring_section(CwRecord *section, const CwLimits *limits)
{
  CwFilter filter = cw_filter_read(section);

  if (!cw_filter_bring_to(limits, &filter))
    return FALSE;
  cw_filter_write(&filter, section);
  return TRUE;
}

/* An input as it was set by hand, on the processor's steps; FALSE where it cannot be done. */
static gboolean bring_input(CwRecord *input, const CwLimits *limits)
{
  CwList *sections = cw_input_correction_get_sections(input);
  double delay_ms = cw_input_correction_get_delay_ms(input),
         samples = cw_limits_on_step(1e-3 * delay_ms * limits->rate_hz,
                                     limits->delay_step_seconds * limits->rate_hz);

  if (cw_list_get_length(sections) > limits->sections || (limits->no_delay && delay_ms > 0) ||
      samples > limits->delay_most_seconds * limits->rate_hz + 1e-6)
    return FALSE;
  for (guint s = 0; s < cw_list_get_length(sections); s++)
    if (!bring_section(cw_list_get(sections, s), limits))
      return FALSE;
  cw_input_correction_set_gain_db(
      input, cw_limits_on_step(cw_input_correction_get_gain_db(input), limits->gain_step_db));
  cw_input_correction_set_delay_samples(input, samples);
  cw_input_correction_set_delay_ms(input, 1e3 * samples / limits->rate_hz);
  return TRUE;
}

/* Copies of the inputs that hands changed, on the processor's steps. What cannot be brought there is counted
 * and left out. */
static GPtrArray *gather_by_hand(CwRecord *vehicle, const CwLimits *limits, CwInputsCost *cost)
{
  GPtrArray *kept = g_ptr_array_new_with_free_func(g_object_unref);
  CwList *inputs = inputs_of(vehicle);

  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++) {
    if (!cw_job_input_is_by_hand(vehicle, cw_list_get(inputs, i)))
      continue;
    g_autoptr(CwRecord) copy = cw_record_copy(cw_list_get(inputs, i));
    if (bring_input(copy, limits))
      g_ptr_array_add(kept, g_steal_pointer(&copy));
    else
      cost->redone++;
  }
  return kept;
}

/* In place of the input of the same lead, or of the same number where no lead is told. */
static void put_back(CwList *inputs, CwRecord *kept)
{
  gint64 lead = cw_input_correction_get_lead(kept), number = cw_input_correction_get_input(kept);
  CwRecord *now =
      lead == CW_NO_INTEGER ? NULL : cw_list_find_integer_at(inputs, CW_INPUT_CORRECTION_FIELD_LEAD, lead);

  if (now) {
    cw_input_correction_set_input(kept, cw_input_correction_get_input(now));
    cw_record_assign(now, kept);
  } else if (!cw_list_find_integer_at(inputs, CW_INPUT_CORRECTION_FIELD_INPUT, number)) {
    cw_list_append(inputs, kept);
  }
}

void cw_job_refit_inputs(CwRecord *vehicle, CwInputsCost *cost)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle), *processor = cw_vehicle_get_processor(vehicle);
  CwLimits limits = cw_limits_of_input(processor);
  g_autoptr(GPtrArray) kept = gather_by_hand(vehicle, &limits, cost);

  if (survey) {
    cw_job_mix_survey(survey, processor);
    cw_job_apply_correction(vehicle);
  } else if (inputs_of(vehicle)) {
    cw_list_clear(inputs_of(vehicle));
  }
  for (guint i = 0; i < kept->len; i++)
    put_back(inputs_of(vehicle), g_ptr_array_index(kept, i));
  cost->kept_by_hand = kept->len;
  cost->filters_after = count_filters(vehicle);
  weigh(vehicle, &cost->after_db, &cost->after_low_hz, &cost->after_high_hz);
}
