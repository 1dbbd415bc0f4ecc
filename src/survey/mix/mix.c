/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/mix/mix.h"
#include <math.h>
#include <string.h>

#define SAME_ALL_PASS_OCTAVES 0.08
#define MEET_DB 12.0
#define LEAST_MEET_OCTAVES 0.5

double cw_mix_hz(size_t point)
{
  return 20 * exp2((double)point / 12);
}

static CwComplex all_pass_at(double hz, double centre_hz, double q)
{
  double u = hz / centre_hz;
  CwComplex under = 1 - u * u + I * u / q;
  return conj(under) / under;
}

bool cw_mix_is_own_all_pass(const CwMixChoice *choice, size_t which, const CwMixLead *lead)
{
  return !isnan(lead->all_pass_hz) &&
         fabs(log2(lead->all_pass_hz / choice->all_pass_hz[which])) < SAME_ALL_PASS_OCTAVES &&
         fabs(log2(lead->all_pass_q / choice->all_pass_q[which])) < 0.3;
}

void cw_mix_contribution(const CwMixChoice *choice, const CwMixLead *lead, const CwMixPart *part,
                         CwComplex *value)
{
  double gain = pow(10, part->gain_db / 20) * (part->inverted ? -1 : 1),
         delay = lead->delay_seconds + part->delay_seconds;

  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    double hz = cw_mix_hz(i);
    value[i] = gain * lead->value[i] * cexp(-2 * M_PI * I * hz * delay);
    for (size_t a = 0; a < choice->all_passes; a++)
      if (!cw_mix_is_own_all_pass(choice, a, lead))
        value[i] *= all_pass_at(hz, choice->all_pass_hz[a], choice->all_pass_q[a]);
  }
}

void cw_mix_sum(const CwMixChoice *choice, const CwMixLead *lead, int side, CwComplex *sum)
{
  CwComplex one[CW_SURVEY_POINTS];

  memset(sum, 0, CW_SURVEY_POINTS * sizeof *sum);
  for (size_t p = 0; p < choice->side[side].parts; p++) {
    cw_mix_contribution(choice, &lead[choice->side[side].part[p].index], &choice->side[side].part[p], one);
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      sum[i] += one[i];
  }
}

static double decibels(CwComplex value)
{
  return 20 * log10(cabs(value) + 1e-9);
}

double cw_mix_raw_sum(const CwMixLead *lead, const size_t *index, size_t count, double *db,
                      double *meet_octaves)
{
  double power = 0, full = 0;
  size_t meet = 0;

  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    CwComplex sum = 0;
    double sizes = 0, largest = 0, second = 0, hz = cw_mix_hz(i);
    for (size_t k = 0; k < count; k++) {
      double size = cabs(lead[index[k]].value[i]);
      sum += lead[index[k]].value[i] * cexp(-2 * M_PI * I * hz * lead[index[k]].delay_seconds);
      sizes += size;
      second = fmax(second, fmin(size, largest));
      largest = fmax(largest, size);
    }
    db[i] = sizes > 0 ? decibels(sum) : NAN;
    if (second > 0 && second > largest * pow(10, -MEET_DB / 20)) {
      meet++;
      power += pow(cabs(sum) / sizes, 2);
      full += 1;
    }
  }
  if (meet_octaves)
    *meet_octaves = (double)meet / 12;
  return (double)meet / 12 < LEAST_MEET_OCTAVES ? 0 : -10 * log10(fmax(power / full, 1e-10));
}
