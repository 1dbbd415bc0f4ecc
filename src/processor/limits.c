/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "processor/limits.h"
#include "processor/output_setting.h"
#include "vehicle/kinds/kinds.h"
#include <math.h>

/* Filters are set between 10 Hz and just under half the sample rate. */
#define FREQUENCY_LEAST_HZ 10.0
#define FREQUENCY_MOST_PART 0.45

CwLimits cw_limits_wide(double rate_hz)
{
  CwLimits limits = {.rate_hz = rate_hz,
                     .sections = 10,
                     .section_gain_least_db = -15,
                     .section_gain_most_db = 6,
                     .q_least = 0.4,
                     .q_most = 10,
                     .gain_least_db = -60,
                     .gain_most_db = 12,
                     .delay_most_seconds = 1,
                     .frequency_least_hz = FREQUENCY_LEAST_HZ,
                     .frequency_most_hz = FREQUENCY_MOST_PART * rate_hz,
                     .crossover_order_most = 8,
                     .shelves = true,
                     .all_pass = true};

  for (int f = 0; f < CW_FILTER_FAMILIES; f++)
    limits.family[f] = true;
  return limits;
}

static double within(double value, double least, double most)
{
  return fmin(fmax(value, least), most);
}

/* Whole numbers of steps to values: by division where that is exact in decimals. */
static double steps_to_value(double steps, double step)
{
  double per_unit = rint(1 / step);
  return fabs(step * per_unit - 1) < 1e-9 ? steps / per_unit : steps * step;
}

double cw_limits_on_step(double value, double step)
{
  return step > 0 ? steps_to_value(rint(value / step), step) : value;
}

/* On a step and within a range whose ends need not lie on one. */
static double on_step_within(double value, double step, int steps, double least, double most)
{
  double count;

  value = within(value, least, most);
  if (!(step > 0))
    return value;
  count = rint(value / step) + steps;
  count = fmin(fmax(count, ceil(least / step - 1e-9)), floor(most / step + 1e-9));
  return within(steps_to_value(count, step), least, most);
}

/* Frequencies count in steps an octave from 1 kHz. */
static double frequency_of_step(const CwLimits *limits, double count)
{
  double per_octave = limits->frequency_steps_per_octave;

  if (limits->frequency_least_hz > 0)
    count = fmax(count, ceil(log2(limits->frequency_least_hz / 1000) * per_octave - 1e-6));
  if (limits->frequency_most_hz > 0)
    count = fmin(count, floor(log2(limits->frequency_most_hz / 1000) * per_octave + 1e-6));
  return 1000 * exp2(count / per_octave);
}

static double frequency_within(const CwLimits *limits, double hz)
{
  hz = fmax(hz, limits->frequency_least_hz);
  return limits->frequency_most_hz > 0 ? fmin(hz, limits->frequency_most_hz) : hz;
}

double cw_limits_frequency_hz(const CwLimits *limits, double hz, int steps)
{
  double per_octave = limits->frequency_steps_per_octave;
  return per_octave > 0 ? frequency_of_step(limits, rint(log2(hz / 1000) * per_octave) + steps)
                        : frequency_within(limits, hz);
}

double cw_limits_frequency_above_hz(const CwLimits *limits, double hz)
{
  double per_octave = limits->frequency_steps_per_octave;
  return per_octave > 0 ? frequency_of_step(limits, ceil(log2(hz / 1000) * per_octave - 1e-6))
                        : frequency_within(limits, hz);
}

double cw_limits_frequency_by_hand_hz(const CwLimits *limits, double hz)
{
  if (limits->frequency_steps_per_octave > 0)
    return cw_limits_frequency_hz(limits, hz, 0);
  hz = frequency_within(limits, hz);
  return hz < 100 ? rint(hz * 10) / 10 : rint(hz);
}

double cw_limits_section_gain_db(const CwLimits *limits, double gain_db, int steps)
{
  return on_step_within(gain_db, limits->gain_step_db, steps, limits->section_gain_least_db,
                        limits->section_gain_most_db);
}

double cw_limits_q(const CwLimits *limits, double q, int steps)
{
  return on_step_within(q, limits->q_step, steps, limits->q_least, limits->q_most);
}

double cw_limits_gain_db(const CwLimits *limits, double gain_db)
{
  return on_step_within(gain_db, limits->gain_step_db, 0, limits->gain_least_db, limits->gain_most_db);
}

double cw_limits_delay_seconds(const CwLimits *limits, double seconds)
{
  return on_step_within(seconds, limits->delay_step_seconds, 0, 0, limits->delay_most_seconds);
}

double cw_limits_delay_samples(const CwLimits *limits, double samples)
{
  return on_step_within(samples, limits->delay_step_seconds * limits->rate_hz, 0, 0,
                        floor(limits->delay_most_seconds * limits->rate_hz + 1e-6));
}

CwLimits cw_limits_by_hand(CwLimits limits)
{
  if (!(limits.gain_step_db > 0))
    limits.gain_step_db = 0.1;
  if (!(limits.q_step > 0))
    limits.q_step = 0.01;
  return limits;
}

/* --- of a record --- */

static double step_of(double step)
{
  return isnan(step) ? 0 : step;
}

CwLimits cw_limits_of_output(CwRecord *processor)
{
  g_autoptr(CwRecord) any = processor ? g_object_ref(processor) : cw_record_new(cw_processor_get_type());
  const CwNumbers *section_gain = cw_processor_get_section_gain_db(any), *q = cw_processor_get_q(any),
                  *gain = cw_processor_get_gain_db(any);
  const char *const *families = cw_processor_get_crossover_families(any);
  double rate_hz = cw_processor_get_sample_rate_hz(any);
  CwLimits limits = {.rate_hz = rate_hz,
                     .sections =
                         (size_t)MIN(cw_processor_get_sections_per_output(any), CW_SETTING_MOST_SECTIONS),
                     .section_gain_least_db = cw_numbers_at(section_gain, 0, 0),
                     .section_gain_most_db = cw_numbers_at(section_gain, 1, 0),
                     .q_least = cw_numbers_at(q, 0, 0),
                     .q_most = cw_numbers_at(q, 1, 0),
                     .gain_least_db = cw_numbers_at(gain, 0, 0),
                     .gain_most_db = cw_numbers_at(gain, 1, 0),
                     .delay_most_seconds = 1e-3 * cw_processor_get_delay_ms_most(any),
                     .delay_step_seconds = step_of(cw_processor_get_delay_step_samples(any)) / rate_hz,
                     .frequency_least_hz = FREQUENCY_LEAST_HZ,
                     .frequency_most_hz = FREQUENCY_MOST_PART * rate_hz,
                     .frequency_steps_per_octave = step_of(cw_processor_get_frequency_steps_per_octave(any)),
                     .gain_step_db = step_of(cw_processor_get_gain_step_db(any)),
                     .q_step = step_of(cw_processor_get_q_step(any)),
                     .crossover_order_most = (int)cw_processor_get_crossover_order_most(any),
                     .shelves = cw_processor_get_shelves(any),
                     .all_pass = cw_processor_get_all_pass(any)};

  for (guint i = 0; families && families[i]; i++) {
    CwFilterFamily family = cw_filter_family_from_name(families[i]);
    if (family < CW_FILTER_FAMILIES)
      limits.family[family] = true;
  }
  return limits;
}

CwLimits cw_limits_of_input(CwRecord *processor)
{
  CwLimits limits = cw_limits_of_output(processor);

  if (processor && cw_processor_get_sections_per_input(processor) != CW_NO_INTEGER)
    limits.sections = (size_t)MIN(cw_processor_get_sections_per_input(processor), CW_SETTING_MOST_SECTIONS);
  limits.no_delay = processor && !cw_processor_get_input_delay(processor);
  return limits;
}

void cw_limits_crossover(const CwLimits *limits, int order_wanted, CwFilterFamily *family, int *order)
{
  int most = order_wanted < limits->crossover_order_most ? order_wanted : limits->crossover_order_most;

  *order = most;
  if (limits->family[CW_FILTER_LINKWITZ_RILEY] && most >= 2) {
    *family = CW_FILTER_LINKWITZ_RILEY;
    *order = most - most % 2;
  } else if (limits->family[CW_FILTER_BUTTERWORTH]) {
    *family = CW_FILTER_BUTTERWORTH;
  } else if (limits->family[CW_FILTER_BESSEL]) {
    *family = CW_FILTER_BESSEL;
  } else {
    *family = CW_FILTER_BUTTERWORTH;
    *order = 0;
  }
}
