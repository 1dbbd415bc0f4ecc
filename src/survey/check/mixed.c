/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include "survey/survey_private.h"
#include <math.h>

#define SNR 10.0
#define RANGE_DB 20.0
#define LEAST_POINTS 24
#define LEAKS 0.07   /* radians: a lead of one side with 7 % of the other */
#define UNEVEN 0.045 /* a lead of both with 0.4 dB between them */
#define BY_BAND 0.3  /* between two stretches of the band */
#define BOTH (M_PI / 4)
#define RIGHT (M_PI / 2)

/* What a lead plays of left and right as an angle: 0 left alone, half a right angle both alike, a right angle
 * right alone, below 0 or beyond a right angle where they are against each other. */
static size_t read_angles(const CwAcceptedLead *heard, double *angle)
{
  const CwLeadResponse *l = &heard->response[0], *r = &heard->response[1];
  double apart = r->peak_seconds - l->peak_seconds, top = 0;
  size_t count = 0;

  for (size_t i = CW_LEAD_BELOW; i < CW_LEAD_POINTS; i++)
    top = fmax(top, hypot(cabs(l->value[i]), cabs(r->value[i])));
  for (size_t i = CW_LEAD_BELOW; i < CW_LEAD_POINTS; i++) {
    double a = cabs(l->value[i]), b = cabs(r->value[i]), noise = hypot(l->noise[i], r->noise[i]);
    if (hypot(a, b) < fmax(SNR * noise, top * pow(10, -RANGE_DB / 20)) || cw_lead_hz(i) > 18000)
      continue;
    CwComplex turned = r->value[i] * cexp(-2 * M_PI * I * cw_lead_hz(i) * apart);
    double along = creal(turned * conj(l->value[i]));
    bool against = along < 0 && fmin(a, b) > 4 * noise;
    angle[count++] = atan2(against ? -b : b, a);
  }
  return count;
}

static bool as_it_should(double angle)
{
  return fabs(angle) < LEAKS || fabs(angle - RIGHT) < LEAKS || fabs(angle - BOTH) < UNEVEN ||
         fabs(angle + RIGHT) < LEAKS;
}

/* The lead's response to the mix that it plays: the least squares answer of both. */
static void respond_to_mix(const CwAcceptedLead *heard, double left, double right, CwLeadResponse *own)
{
  const CwLeadResponse *l = &heard->response[0], *r = &heard->response[1];
  double size = left * left + right * right;

  *own = fabs(left) >= fabs(right) ? *l : *r;
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    double hz = cw_lead_hz(i);
    CwComplex a = l->value[i] * cexp(-2 * M_PI * I * hz * (l->peak_seconds - own->peak_seconds)),
              b = r->value[i] * cexp(-2 * M_PI * I * hz * (r->peak_seconds - own->peak_seconds));
    own->value[i] = (left * a + right * b) / size;
    own->noise[i] = hypot(left * l->noise[i], right * r->noise[i]) / size;
  }
}

void cw_survey_conclude_mixed(CwSurveyResult *result, CwSurveyedLead *lead, const CwAcceptedLead *heard,
                              CwLeadResponse *own)
{
  double angle[CW_LEAD_POINTS], low[CW_LEAD_POINTS], high[CW_LEAD_POINTS];
  size_t count = read_angles(heard, angle), half = count / 2, lows = 0, highs = 0;

  lead->left = lead->right = NAN;
  if (count < LEAST_POINTS)
    return;
  for (size_t i = 0; i < count / 5 + 6; i++)
    low[lows++] = angle[i];
  for (size_t i = half; i < count; i++)
    high[highs++] = angle[i];
  double bass = cw_median(low, lows), treble = cw_median(high, highs);
  bool by_band = fabs(bass - treble) > BY_BAND && fabs(fabs(bass - treble) - M_PI) > BY_BAND;
  double whole = by_band ? treble : cw_median(angle, count);
  if (!by_band && as_it_should(whole))
    return;
  CwTrouble t = cw_survey_trouble(by_band ? CW_TROUBLE_MIXED_BY_BAND : CW_TROUBLE_MIXED, CW_TROUBLE_NO_TAKE);
  double size = fmax(fabs(cos(whole)), fabs(sin(whole)));
  t.lead = lead->lead;
  t.left = cos(whole) / size;
  t.right = sin(whole) / size;
  t.db = by_band ? sin(bass) / fmax(fabs(cos(bass)), 1e-2) : NAN;
  cw_survey_add_trouble(result, &t);
  lead->left = t.left;
  lead->right = t.right;
  lead->side = CW_SIDE_BOTH;
  lead->doubt |= CW_DOUBT_SIDE | (by_band ? CW_DOUBT_OF_RESPONSE : 0);
  if (!by_band)
    respond_to_mix(heard, t.left, t.right, own);
}
