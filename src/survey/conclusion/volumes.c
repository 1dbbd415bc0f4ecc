/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include "survey/survey_private.h"
#include <math.h>

#define LEAST_TURN_DB 1.0 /* by which the volume must have been turned for another volume's take */
#define LOUDNESS_DB 0.5   /* least change of the bass that counts as one */
#define MIDDLE_LOW_HZ 700.0
#define MIDDLE_HIGH_HZ 5000.0
#define BASS_LOW_HZ 30.0
#define BASS_HIGH_HZ 90.0
#define BASS_SNR 15.0

/* Change of the middle (median over the leads) and of the bass against it, from the survey's take to another
 * volume's. */
static bool compare_volumes(const CwLeadSurvey *survey, CwStimulusKind kind, const CwAcceptedTake *main,
                            CwSurveyResult *r, double *middle_db, double *bass_db)
{
  double *middle = g_new(double, r->leads), *bass = g_new(double, r->leads);
  size_t middles = 0, basses = 0;

  for (size_t i = 0; i < r->leads; i++) {
    const CwAcceptedTake *take = cw_survey_find_take(survey, kind, r->lead[i].lead, false);
    const CwAcceptedLead *before = cw_accepted_take_lead(main, r->lead[i].lead);
    CwLeadResponse a, b;
    if (!take || !before || r->lead[i].silent)
      continue;
    cw_accepted_lead_sum(take, cw_accepted_take_lead(take, r->lead[i].lead), &a);
    cw_accepted_lead_sum(main, before, &b);
    double m = cw_lead_response_change_db(&a, &b, MIDDLE_LOW_HZ, MIDDLE_HIGH_HZ, BASS_SNR, false);
    double low = cw_lead_response_change_db(&a, &b, BASS_LOW_HZ, BASS_HIGH_HZ, BASS_SNR, false);
    if (!isnan(m))
      middle[middles++] = m;
    if (!isnan(low))
      bass[basses++] = low;
    r->lead[i].bass_change_db = kind == CW_STIMULUS_QUIET && !isnan(low) ? low : r->lead[i].bass_change_db;
  }
  *middle_db = cw_median(middle, middles);
  *bass_db = cw_median(bass, basses) - *middle_db;
  for (size_t i = 0; i < r->leads && kind == CW_STIMULUS_QUIET; i++)
    r->lead[i].bass_change_db -= *middle_db;
  g_free(middle);
  g_free(bass);
  return !isnan(*middle_db);
}

/* The tone that clips a lead first. */
static void conclude_clip(const CwLeadSurvey *survey, CwSurveyResult *r, double *lowest)
{
  CwStimulus s = cw_stimulus_design(CW_STIMULUS_LOUD);

  for (size_t i = 0; i < r->leads; i++) {
    CwSurveyedLead *l = &r->lead[i];
    const CwAcceptedTake *take = cw_survey_find_take(survey, CW_STIMULUS_LOUD, l->lead, false);
    const CwAcceptedLead *heard = take && !l->silent ? cw_accepted_take_lead(take, l->lead) : NULL;
    l->clip_dbfs = l->clip_tone_hz = NAN;
    for (size_t t = 0; heard && t < s.tones; t++) {
      const CwToneClip *clip = &heard->tone[t];
      if (clip->readable && !isnan(clip->limit_dbfs) && !(clip->limit_dbfs >= r->limit_dbfs))
        r->limit_dbfs = clip->limit_dbfs;
      if (clip->readable && !isnan(clip->clip_dbfs) && !(clip->clip_dbfs >= l->clip_dbfs)) {
        l->clip_dbfs = clip->clip_dbfs;
        l->clip_tone_hz = s.tone[t].hz;
      }
    }
    if (!isnan(l->clip_dbfs))
      *lowest = fmin(*lowest, l->clip_dbfs);
  }
}

/* The level at which a lead was when it began to clip; INFINITY where it did not. */
static double clip_dbv(const CwSurveyedLead *l, double loud_change_db)
{
  size_t point = isnan(l->clip_tone_hz) ? 0 : (size_t)lrint(12 * log2(l->clip_tone_hz / 20));

  if (isnan(l->clip_dbfs) || isnan(l->response_dbv[point]))
    return INFINITY;
  return l->response_dbv[point] + loud_change_db + l->clip_dbfs;
}

/* The highest volume at which no tone clips a lead with a full-scale track: a whole step where steps were
 * noted. What a lead lifts above its tones may reach the rail before that, and no more. */
static void conclude_clean(CwSurveyResult *r, double loud_change_db, double lowest_clip_dbfs)
{
  double steps = r->loud_step - r->survey_step, step_db = loud_change_db / steps;
  double quiet_db = r->quiet_change_db / (r->survey_step - r->quiet_step);

  if ((r->doubt & CW_DOUBT_CLEAN) && quiet_db > step_db && steps > 0) { /* never above what was heard */
    steps = floor(loud_change_db / quiet_db + 0.3);
    step_db = quiet_db;
  }

  r->clean_change_db = loud_change_db + lowest_clip_dbfs;
  if (steps > 0 && loud_change_db > 0) {
    r->clean_step = fmax(r->survey_step + steps - ceil(-lowest_clip_dbfs / step_db - 1e-9), 0);
    r->clean_change_db = (r->clean_step - r->survey_step) * step_db;
  }
  for (size_t i = 0; i < r->leads; i++)
    r->lead[i].clean_dbv =
        fmin(r->lead[i].level_dbv + r->clean_change_db, clip_dbv(&r->lead[i], loud_change_db));
}

void cw_survey_conclude_volumes(const CwLeadSurvey *survey, const CwAcceptedTake *main, CwSurveyResult *r)
{
  const CwAcceptedTake *loud = cw_survey_find_take(survey, CW_STIMULUS_LOUD, 0, false),
                       *quiet = cw_survey_find_take(survey, CW_STIMULUS_QUIET, 0, false);
  double quiet_middle, quiet_bass = NAN, loud_middle = NAN, loud_bass = NAN, lowest = 0;

  r->survey_step = main->volume_step;
  r->loud_step = loud ? loud->volume_step : NAN;
  r->quiet_step = quiet ? quiet->volume_step : NAN;
  r->clean_step = r->clean_change_db = NAN;
  for (size_t i = 0; i < r->leads; i++)
    r->lead[i].bass_change_db = r->lead[i].clean_dbv = NAN;
  if (quiet && compare_volumes(survey, CW_STIMULUS_QUIET, main, r, &quiet_middle, &quiet_bass)) {
    r->quiet_not_quieter = quiet_middle > -LEAST_TURN_DB;
    r->quiet_change_db = -quiet_middle;
    r->loudness_db = r->quiet_not_quieter ? 0 : quiet_bass;
  }
  if (loud && compare_volumes(survey, CW_STIMULUS_LOUD, main, r, &loud_middle, &loud_bass)) {
    r->loud_not_louder = loud_middle < LEAST_TURN_DB;
    if (!r->loud_not_louder && !(fabs(r->loudness_db) >= fabs(loud_bass)))
      r->loudness_db = loud_bass;
  }
  r->loudness_found = fabs(r->loudness_db) > LOUDNESS_DB;
  if (!loud || r->loud_not_louder)
    return;
  conclude_clip(survey, r, &lowest);
  if (r->limit_dbfs < lowest) {
    CwTrouble t = cw_survey_trouble(CW_TROUBLE_LIMITER, CW_STIMULUS_LOUD);
    t.db = lowest = r->limit_dbfs;
    cw_survey_add_trouble(r, &t);
  }
  conclude_clean(r, loud_middle + r->loud_correction_db, lowest);
}
