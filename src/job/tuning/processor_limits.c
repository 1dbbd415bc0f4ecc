/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/processor_limits.h"
#include "processor/output_setting.h"
#include <math.h>

#define MOST_LIFT_DB 6.0

static double step_of(CwRecord *processor, const char *key)
{
  double step = cw_record_get_number(processor, key);
  return isnan(step) ? 0 : step;
}

CwLimits cw_job_limits(CwRecord *processor)
{
  const CwNumbers *section_gain = cw_record_get_numbers(processor, "section_gain_db"),
                  *q = cw_record_get_numbers(processor, "q");
  const CwNumbers *gain = cw_record_get_numbers(processor, "gain_db");
  const char *const *families = cw_record_get_texts(processor, "crossover_families");
  CwLimits limits = {.rate_hz = cw_record_get_number(processor, "sample_rate_hz"),
                     .sections = (size_t)MIN(cw_record_get_integer(processor, "sections_per_output"),
                                             CW_SETTING_MOST_SECTIONS),
                     .section_gain_least_db = cw_numbers_at(section_gain, 0, 0),
                     .section_gain_most_db = fmin(cw_numbers_at(section_gain, 1, 0), MOST_LIFT_DB),
                     .q_least = cw_numbers_at(q, 0, 0),
                     .q_most = cw_numbers_at(q, 1, 0),
                     .gain_least_db = cw_numbers_at(gain, 0, 0),
                     .gain_most_db = cw_numbers_at(gain, 1, 0),
                     .delay_most_seconds = 1e-3 * cw_record_get_number(processor, "delay_ms_most"),
                     .frequency_steps_per_octave = step_of(processor, "frequency_steps_per_octave"),
                     .gain_step_db = step_of(processor, "gain_step_db"),
                     .q_step = step_of(processor, "q_step"),
                     .crossover_order_most = (int)cw_record_get_integer(processor, "crossover_order_most"),
                     .all_pass = cw_record_get_boolean(processor, "all_pass")};

  limits.delay_step_seconds = step_of(processor, "delay_step_samples") / limits.rate_hz;
  for (guint i = 0; families && families[i]; i++) {
    CwFilterFamily family = cw_filter_family_from_name(families[i]);
    if (family < CW_FILTER_FAMILIES)
      limits.family[family] = true;
  }
  return limits;
}
