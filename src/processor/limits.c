/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "processor/limits.h"
#include <math.h>

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
                     .crossover_order_most = 8,
                     .all_pass = true};

  for (int f = 0; f < CW_FILTER_FAMILIES; f++)
    limits.family[f] = true;
  return limits;
}

static double on_grid(double value, double step, int steps)
{
  return step > 0 ? step * (rint(value / step) + steps) : value;
}

static double within(double value, double least, double most)
{
  return fmin(fmax(value, least), most);
}

/* The same within a range whose ends need not be on the grid. */
static double on_grid_within(double value, double step, int steps, double least, double most)
{
  double snapped = on_grid(within(value, least, most), step, steps);

  if (step > 0 && snapped < least - 1e-9)
    snapped = step * ceil(least / step - 1e-9);
  if (step > 0 && snapped > most + 1e-9)
    snapped = step * floor(most / step + 1e-9);
  return within(snapped, least, most);
}

double cw_limits_frequency_hz(const CwLimits *limits, double hz, int steps)
{
  double per_octave = limits->frequency_steps_per_octave;
  return per_octave > 0 ? 1000 * exp2((rint(log2(hz / 1000) * per_octave) + steps) / per_octave) : hz;
}

double cw_limits_frequency_above_hz(const CwLimits *limits, double hz)
{
  double per_octave = limits->frequency_steps_per_octave;
  return per_octave > 0 ? 1000 * exp2(ceil(log2(hz / 1000) * per_octave - 1e-6) / per_octave) : hz;
}

double cw_limits_section_gain_db(const CwLimits *limits, double gain_db, int steps)
{
  return on_grid_within(gain_db, limits->gain_step_db, steps, limits->section_gain_least_db,
                        limits->section_gain_most_db);
}

double cw_limits_q(const CwLimits *limits, double q, int steps)
{
  return on_grid_within(q, limits->q_step, steps, limits->q_least, limits->q_most);
}

double cw_limits_gain_db(const CwLimits *limits, double gain_db)
{
  return on_grid_within(gain_db, limits->gain_step_db, 0, limits->gain_least_db, limits->gain_most_db);
}

double cw_limits_delay_seconds(const CwLimits *limits, double seconds)
{
  return on_grid_within(seconds, limits->delay_step_seconds, 0, 0, limits->delay_most_seconds);
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
