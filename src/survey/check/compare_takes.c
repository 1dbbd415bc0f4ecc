/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include "survey/survey_private.h"
#include <math.h>
#include <string.h>

#define SNR 12.0
#define RANGE_DB 20.0
#define SHAPE_LOW_HZ 250.0 /* above what loudness and bass controls change */
#define LEAST_POINTS 12

CwTrouble cw_survey_trouble(CwTroubleCode code, int take)
{
  return (CwTrouble){code, take, 0, 0, NAN, NAN, NAN, NAN, NAN, false};
}

void cw_survey_add_trouble(CwSurveyResult *r, const CwTrouble *t)
{
  for (size_t i = 0; i < r->troubles; i++)
    if (r->trouble[i].code == t->code && r->trouble[i].take == t->take && r->trouble[i].lead == t->lead)
      return;
  if (r->troubles < CW_SURVEY_MOST_TROUBLES)
    r->trouble[r->troubles++] = *t;
}

void cw_accepted_lead_sum(const CwAcceptedTake *take, const CwAcceptedLead *lead, CwLeadResponse *both)
{
  CwStimulus s = cw_stimulus_design(take->kind);
  cw_accepted_lead_both(lead, s.sweeps, both);
}

/* Level of one response over another, dB, at the points from low to high hz that both hold within the other's
 * own band. Returns how many. */
static size_t ratios_of(const CwLeadResponse *now, const CwLeadResponse *before, double low_hz,
                        double high_hz, double *ratio)
{
  double top = 0;
  size_t count = 0;

  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    if (cabs(before->value[i]) > SNR * before->noise[i])
      top = fmax(top, cabs(before->value[i]));
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    double hz = cw_lead_hz(i), a = cabs(now->value[i]), b = cabs(before->value[i]);
    if (hz >= low_hz && hz <= high_hz && a > SNR * now->noise[i] && b > SNR * before->noise[i] &&
        b > top * pow(10, -RANGE_DB / 20))
      ratio[count++] = 20 * log10(a / b);
  }
  return count;
}

/* The level of one lead's response over another's (median), and how much their shapes differ (root mean
 * square about it); false where too little is heard of either. A bass lead is compared over what it has. */
bool cw_lead_response_shapes(const CwLeadResponse *now, const CwLeadResponse *before, double *level_db,
                             double *shape_db)
{
  double ratio[CW_LEAD_POINTS], sorted[CW_LEAD_POINTS], sum = 0;
  size_t count = ratios_of(now, before, SHAPE_LOW_HZ, 18000, ratio);

  if (count < LEAST_POINTS)
    count = ratios_of(now, before, 25, SHAPE_LOW_HZ, ratio);
  if (count < LEAST_POINTS)
    return false;
  memcpy(sorted, ratio, count * sizeof *ratio);
  *level_db = cw_median(sorted, count);
  for (size_t i = 0; i < count; i++)
    sum += pow(ratio[i] - *level_db, 2);
  *shape_db = sqrt(sum / (double)count);
  return true;
}
