/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include "survey/survey_private.h"
#include <math.h>

#define COMPARE_SNR 10.0
#define COMPARE_POINTS 24
#define BLOCK_SECONDS 0.05
#define SEARCH_SECONDS 0.02

void cw_lead_response_move(CwLeadResponse *r, double gain, double seconds)
{
  r->peak_seconds += seconds;
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    r->value[i] *= gain;
    r->noise[i] *= gain;
  }
}

void cw_accepted_lead_both(const CwAcceptedLead *lead, size_t sweeps, CwLeadResponse *both)
{
  *both = lead->response[0];
  for (size_t s = 1; s < sweeps; s++) {
    double apart = lead->response[s].peak_seconds - both->peak_seconds;
    for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
      both->value[i] += lead->response[s].value[i] * cexp(-2 * M_PI * I * cw_lead_hz(i) * apart);
      both->noise[i] = hypot(both->noise[i], lead->response[s].noise[i]);
    }
  }
}

bool cw_lead_response_compare(const CwLeadResponse *one, const CwLeadResponse *other, double *later_seconds,
                              double *gain)
{
  CwComplex cross[CW_LEAD_POINTS];
  double best = -1, at = 0, ratio = 0, weights = 0;
  size_t used = 0;

  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    bool usable = cabs(one->value[i]) > COMPARE_SNR * one->noise[i] &&
                  cabs(other->value[i]) > COMPARE_SNR * other->noise[i] && cw_lead_hz(i) < 18500;
    cross[i] = usable ? one->value[i] * conj(other->value[i]) : 0;
    used += usable;
    if (!usable)
      continue;
    double weight = 1 / (pow(one->noise[i] / cabs(one->value[i]), 2) +
                         pow(other->noise[i] / cabs(other->value[i]), 2) + 1e-6);
    ratio += weight * log(cabs(one->value[i]) / cabs(other->value[i]));
    weights += weight;
    cross[i] *= weight / cabs(cross[i]);
  }
  if (used < COMPARE_POINTS)
    return false;
  for (double d = -SEARCH_SECONDS; d <= SEARCH_SECONDS; d += 10e-6) {
    double sum = 0;
    for (size_t i = 0; i < CW_LEAD_POINTS; i++)
      if (cross[i] != 0)
        sum += creal(cross[i] * cexp(2 * M_PI * I * cw_lead_hz(i) * d));
    if (sum > best) {
      best = sum;
      at = d;
    }
  }
  for (int round = 0; round < 4; round++) {
    double slope = 0, bend = 0;
    for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
      double w = 2 * M_PI * cw_lead_hz(i);
      if (cross[i] == 0)
        continue;
      slope -= w * cabs(cross[i]) * carg(cross[i] * cexp(I * w * at));
      bend += w * w * cabs(cross[i]);
    }
    at += bend > 0 ? slope / bend : 0;
  }
  *later_seconds = at + one->peak_seconds - other->peak_seconds;
  *gain = exp(ratio / weights);
  return true;
}

void cw_accepted_lead_levels(const double *samples, size_t frames, double rate_hz, CwAcceptedLead *lead)
{
  size_t block = (size_t)(BLOCK_SECONDS * rate_hz), blocks = block ? frames / block : 0;
  double *rms = cw_alloc_real(blocks + 1);

  for (size_t b = 0; b < blocks; b++) {
    double sum = 0;
    for (size_t i = b * block; i < (b + 1) * block; i++)
      sum += samples[i] * samples[i];
    rms[b] = sqrt(sum / (double)block);
  }
  cw_sort_rising(rms, blocks);
  lead->loudest_rms = blocks ? rms[blocks - 1] : 0;
  lead->quiet_rms = blocks ? rms[blocks / 5] : 0;
  cw_free(rms);
}

double cw_lead_response_change_db(const CwLeadResponse *now, const CwLeadResponse *before, double low_hz,
                                  double high_hz, double least_snr, bool silent_ok)
{
  double change[CW_LEAD_POINTS];
  size_t count = 0;

  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    double hz = cw_lead_hz(i), size = cabs(now->value[i]);
    if (hz < low_hz || hz > high_hz || cabs(before->value[i]) < least_snr * before->noise[i])
      continue;
    if (size < least_snr * now->noise[i]) {
      if (!silent_ok)
        continue;
      size = fmax(size, now->noise[i]);
    }
    change[count++] = 20 * log10(fmax(size, 1e-15) / cabs(before->value[i]));
  }
  if (count < 4)
    return NAN;
  cw_sort_rising(change, count);
  return change[count / 2];
}
