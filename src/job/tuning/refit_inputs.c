/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/refit_inputs.h"
#include "job/survey/survey_curves.h"
#include "job/survey/survey_mix.h"
#include "processor/filter.h"
#include <math.h>

static CwList *inputs_of(CwRecord *vehicle)
{
  CwRecord *tune = cw_record_get_child(vehicle, "tune");
  return tune ? cw_record_get_children(tune, "inputs") : NULL;
}

static guint count_filters(CwRecord *vehicle)
{
  CwList *inputs = inputs_of(vehicle);
  guint count = 0;
  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++)
    count += cw_list_get_length(cw_record_get_children(cw_list_get(inputs, i), "sections"));
  return count;
}

static void weigh(CwRecord *vehicle, double *flat_db, double *low_hz, double *high_hz)
{
  CwRecord *survey = cw_record_get_child(vehicle, "survey"),
           *correction = survey ? cw_record_get_child(survey, "correction") : NULL;
  *flat_db = cw_job_corrected_flatness_db(vehicle);
  *low_hz = correction ? cw_record_get_number(correction, "low_hz") : NAN;
  *high_hz = correction ? cw_record_get_number(correction, "high_hz") : NAN;
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
  CwList *sections = cw_record_get_children(input, "sections");
  double delay_ms = cw_record_get_number(input, "delay_ms"),
         samples = cw_limits_on_step(1e-3 * delay_ms * limits->rate_hz,
                                     limits->delay_step_seconds * limits->rate_hz);

  if (cw_list_get_length(sections) > limits->sections || (limits->no_delay && delay_ms > 0) ||
      samples > limits->delay_most_seconds * limits->rate_hz + 1e-6)
    return FALSE;
  for (guint s = 0; s < cw_list_get_length(sections); s++)
    if (!bring_section(cw_list_get(sections, s), limits))
      return FALSE;
  cw_record_set_number(input, "gain_db",
                       cw_limits_on_step(cw_record_get_number(input, "gain_db"), limits->gain_step_db));
  cw_record_set_number(input, "delay_samples", samples);
  cw_record_set_number(input, "delay_ms", 1e3 * samples / limits->rate_hz);
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
  gint64 lead = cw_record_get_integer(kept, "lead"), number = cw_record_get_integer(kept, "input");
  CwRecord *now = lead == CW_NO_INTEGER ? NULL : cw_list_find_integer(inputs, "lead", lead);

  if (now) {
    cw_record_set_integer(kept, "input", cw_record_get_integer(now, "input"));
    cw_record_assign(now, kept);
  } else if (!cw_list_find_integer(inputs, "input", number)) {
    cw_list_append(inputs, kept);
  }
}

void cw_job_refit_inputs(CwRecord *vehicle, CwInputsCost *cost)
{
  CwRecord *survey = cw_record_get_child(vehicle, "survey"),
           *processor = cw_record_get_child(vehicle, "processor");
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
