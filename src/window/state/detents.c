/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/detents.h"

#include <math.h>

static CwRecord *processor_of(CwRecord *vehicle)
{
  return cw_record_get_child(vehicle, "processor");
}

static double to_step(double value, double step)
{
  return isfinite(step) && step > 0 ? step * round(value / step) : value;
}

/* Steps an octave are counted from 1 kHz, as ISO 266 does. Between 10 Hz and just under half the rate. */
double cw_detent_frequency_hz(CwRecord *vehicle, double hz)
{
  CwRecord *processor = processor_of(vehicle);
  double steps = cw_record_get_number(processor, "frequency_steps_per_octave");
  hz = CLAMP(hz, 10, 0.45 * cw_record_get_number(processor, "sample_rate_hz"));
  if (isfinite(steps) && steps > 0)
    return 1000 * exp2(round(log2(hz / 1000) * steps) / steps);
  return hz < 100 ? round(hz * 10) / 10 : round(hz);
}

static double into(const CwNumbers *limits, double value)
{
  if (!limits || limits->n_rows < 2)
    return value;
  return CLAMP(value, cw_numbers_at(limits, 0, 0), cw_numbers_at(limits, 1, 0));
}

double cw_detent_section_gain_db(CwRecord *vehicle, double db)
{
  CwRecord *processor = processor_of(vehicle);
  double step = cw_record_get_number(processor, "gain_step_db");
  return into(cw_record_get_numbers(processor, "section_gain_db"), to_step(db, isfinite(step) ? step : 0.1));
}

double cw_detent_q(CwRecord *vehicle, double q)
{
  CwRecord *processor = processor_of(vehicle);
  double step = cw_record_get_number(processor, "q_step");
  return into(cw_record_get_numbers(processor, "q"), to_step(q, isfinite(step) ? step : 0.01));
}

double cw_detent_delay_samples(CwRecord *vehicle, double samples, double rate_hz)
{
  CwRecord *processor = processor_of(vehicle);
  double most = 1e-3 * cw_record_get_number(processor, "delay_ms_most") * rate_hz;
  return fmin(to_step(fmax(samples, 0), cw_record_get_number(processor, "delay_step_samples")), floor(most));
}
