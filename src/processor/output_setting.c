/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "processor/output_setting.h"
#include "signal/log_grid.h"
#include <math.h>

static size_t crossover_sections(const CwOutputSetting *s, double rate_hz, CwCoefficients *out)
{
  size_t count = 0;

  if (s->high_pass.order > 0)
    count += cw_crossover_design(s->high_pass.family, CW_HIGH_PASS, s->high_pass.order,
                                 s->high_pass.corner_hz, rate_hz, out, NULL);
  if (s->low_pass.order > 0)
    count += cw_crossover_design(s->low_pass.family, CW_LOW_PASS, s->low_pass.order, s->low_pass.corner_hz,
                                 rate_hz, out + count, NULL);
  return count;
}

void cw_setting_crossover_response(const CwOutputSetting *s, double rate_hz, const double *hz, size_t count,
                                   CwComplex *response)
{
  CwCoefficients cascade[2 * CW_CROSSOVER_MOST_SECTIONS];
  cw_cascade_response(cascade, crossover_sections(s, rate_hz, cascade), rate_hz, hz, count, false, response);
}

void cw_setting_response(const CwOutputSetting *s, double rate_hz, const double *hz, size_t count,
                         CwComplex *response)
{
  CwCoefficients cascade[2 * CW_CROSSOVER_MOST_SECTIONS + CW_SETTING_MOST_SECTIONS];
  size_t sections = crossover_sections(s, rate_hz, cascade);
  double gain = pow(10, s->gain_db / 20) * (s->inverted ? -1 : 1);

  for (size_t i = 0; i < s->sections; i++)
    sections += cw_section_design(&s->section[i], rate_hz, &cascade[sections]);
  cw_cascade_response(cascade, sections, rate_hz, hz, count, false, response);
  for (size_t i = 0; i < count; i++)
    response[i] *= gain * cexp(-2 * M_PI * I * hz[i] * s->delay_seconds);
}

double cw_setting_peak_db(const CwOutputSetting *s, double rate_hz)
{
  enum { COUNT = 960 };
  double hz[COUNT], top = 0;
  CwComplex response[COUNT];

  cw_log_grid_fill(20, 96, COUNT, hz);
  cw_setting_response(s, rate_hz, hz, COUNT, response);
  for (size_t i = 0; i < COUNT && hz[i] < 0.49 * rate_hz; i++)
    top = fmax(top, cabs(response[i]));
  return 20 * log10(top + 1e-30);
}

double cw_setting_fall_db(const CwOutputSetting *s, double rate_hz, double hz)
{
  enum { BELOW = 48, ABOVE = 240 };
  double at[BELOW + ABOVE], below = 0, above = 0;
  CwComplex response[BELOW + ABOVE];

  for (size_t i = 0; i < BELOW; i++) /* two octaves downwards; a crossover only falls from there on */
    at[i] = hz * CW_SETTING_PROTECTED_PART * exp2(-(double)i / 24);
  for (size_t i = 0; i < ABOVE; i++) /* ten octaves upwards */
    at[BELOW + i] = fmin(hz * exp2((double)i / 24), 0.49 * rate_hz);
  cw_setting_response(s, rate_hz, at, BELOW + ABOVE, response);
  for (size_t i = 0; i < BELOW; i++)
    below = fmax(below, cabs(response[i]));
  for (size_t i = BELOW; i < BELOW + ABOVE; i++)
    above = fmax(above, cabs(response[i]));
  return 20 * log10((above + 1e-30) / (below + 1e-30));
}
