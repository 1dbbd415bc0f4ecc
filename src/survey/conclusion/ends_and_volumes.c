/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include "survey/survey_private.h"
#include <math.h>
#include <stdlib.h>

#define FADED_DB                                                                                             \
  (-6.0)          /* a lead that falls by so much more than the least affected one follows the fader         \
                   */
#define HEARD 3.0 /* loudest block over a quiet one, amplitude, of a lead that plays */
#define SILENCED_DB (-60.0) /* stands for silence */
#define LEAST_TURN_DB 1.0   /* by which the volume must have been turned for another volume's take */
#define LOUDNESS_DB 0.5     /* least change of the bass that counts as one */
#define MIDDLE_LOW_HZ 700.0
#define MIDDLE_HIGH_HZ 5000.0
#define BASS_LOW_HZ 30.0
#define BASS_HIGH_HZ 90.0
#define BASS_SNR 15.0
#define RANGE_DB 20.0

static void respond_both(const CwAcceptedTake *take, const CwAcceptedLead *lead, CwLeadResponse *both)
{
  CwStimulus s = cw_stimulus_design(take->kind);
  cw_accepted_lead_both(lead, s.sweeps, both);
}

/* --- front and rear --- */

/* The change of a lead's level between a take and the survey's, over the lead's own band. */
static double lead_change_db(const CwAcceptedTake *take, const CwAcceptedTake *main, int lead)
{
  const CwAcceptedLead *now = cw_accepted_take_lead(take, lead), *before = cw_accepted_take_lead(main, lead);
  CwLeadResponse a, b;
  double top = 0;

  if (!now || !before)
    return NAN;
  respond_both(take, now, &a);
  respond_both(main, before, &b);
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    if (cabs(b.value[i]) > 10 * b.noise[i])
      top = fmax(top, cabs(b.value[i]));
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) /* only the lead's own band counts */
    if (cabs(b.value[i]) < top * pow(10, -RANGE_DB / 20))
      b.noise[i] = INFINITY;
  return cw_lead_response_change_db(&a, &b, 25, 18000, 3, true);
}

/* The changes by the takes of one kind, less that of the least affected lead: the volume may have been a
 * little off. */
static bool gather_changes(const CwLeadSurvey *survey, CwStimulusKind kind, const CwAcceptedTake *main,
                           CwSurveyResult *r, double *change)
{
  double most = -INFINITY;

  for (size_t i = 0; i < r->leads; i++) {
    change[i] = NAN;
    for (guint t = 0; t < survey->takes->len && isnan(change[i]); t++) {
      const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
      if (take->kind == kind && !take->unplaced && !r->lead[i].silent)
        change[i] = lead_change_db(take, main, r->lead[i].lead);
    }
    if (!isnan(change[i]))
      most = fmax(most, change[i]);
  }
  for (size_t i = 0; i < r->leads; i++)
    change[i] -= most;
  return isfinite(most);
}

/* What an end of the fader does to the leads, from a take in which no track was found: a lead is silent in
 * it, or as loud as in the take of the other end. Of no use where a lead that the other end silenced is
 * silent here too: then the track was not played. */
static bool gather_silence(const CwLeadSurvey *survey, CwStimulusKind kind, const CwSurveyResult *r,
                           const double *other, double *change)
{
  CwStimulusKind other_kind = kind == CW_STIMULUS_FRONT ? CW_STIMULUS_REAR : CW_STIMULUS_FRONT;
  bool any = false;

  for (size_t i = 0; i < r->leads; i++) {
    const CwAcceptedTake *take = cw_survey_find_take(survey, kind, r->lead[i].lead, true),
                         *placed = cw_survey_find_take(survey, other_kind, r->lead[i].lead, false);
    change[i] = NAN;
    if (!take || !placed || r->lead[i].silent)
      continue;
    const CwAcceptedLead *now = cw_accepted_take_lead(take, r->lead[i].lead),
                         *before = cw_accepted_take_lead(placed, r->lead[i].lead);
    if (now->loudest_rms < HEARD * now->quiet_rms)
      change[i] = SILENCED_DB;
    else if (other[i] >= FADED_DB)
      change[i] = 20 * log10(now->loudest_rms / before->loudest_rms);
    if (change[i] == SILENCED_DB && other[i] < FADED_DB)
      return false;
    any = true;
  }
  return any;
}

/* Where the recordings share a reference lead, one of them may hold nothing but leads that this end silences,
 * and bass: no track is found in it, though it is in the others. A lead that plays at the other end is silent
 * there, or as loud as at that end. */
static void fill_unplaced(const CwLeadSurvey *survey, CwStimulusKind kind, const CwSurveyResult *r,
                          const double *other, double *change)
{
  CwStimulusKind other_kind = kind == CW_STIMULUS_FRONT ? CW_STIMULUS_REAR : CW_STIMULUS_FRONT;

  for (size_t i = 0; i < r->leads; i++) {
    int lead = r->lead[i].lead;
    if (!isnan(change[i]) || !(other[i] >= FADED_DB) || r->lead[i].silent)
      continue;
    const CwAcceptedTake *take = cw_survey_find_take(survey, kind, lead, true),
                         *placed = cw_survey_find_take(survey, other_kind, lead, false);
    const CwAcceptedLead *now = take && take->unplaced ? cw_accepted_take_lead(take, lead) : NULL,
                         *before = placed ? cw_accepted_take_lead(placed, lead) : NULL;
    if (now && now->loudest_rms < HEARD * now->quiet_rms)
      change[i] = SILENCED_DB;
    else if (now && before)
      change[i] = 20 * log10(now->loudest_rms / before->loudest_rms);
  }
}

static int end_of(double front_db, double rear_db)
{
  bool falls_front = front_db < FADED_DB, falls_rear = rear_db < FADED_DB;

  if (isnan(front_db) || isnan(rear_db) || (falls_front && falls_rear))
    return CW_SURVEY_UNKNOWN;
  return falls_rear ? CW_END_FRONT : falls_front ? CW_END_REAR : CW_END_UNFADED;
}

/* The fader must have been turned both ways to call a lead unfaded. Where it moved leads at one end alone,
 * the other take may have been played with it in the middle: then only the bass, which radios leave out of
 * it, is called so. */
static void doubt_unfaded(CwSurveyResult *r)
{
  size_t fronts = 0, rears = 0;

  for (size_t i = 0; i < r->leads; i++) {
    fronts += r->lead[i].end == CW_END_FRONT;
    rears += r->lead[i].end == CW_END_REAR;
  }
  r->fader_one_way = (fronts == 0) != (rears == 0);
  for (size_t i = 0; i < r->leads && r->fader_one_way; i++)
    if (r->lead[i].end == CW_END_UNFADED && r->lead[i].band != CW_BAND_BASS) {
      r->lead[i].end = CW_SURVEY_UNKNOWN;
      r->fader_doubt = true;
    }
}

void cw_survey_conclude_ends(const CwLeadSurvey *survey, const CwAcceptedTake *main, CwSurveyResult *r)
{
  double *front = g_new0(double, r->leads), *rear = g_new0(double, r->leads);
  bool has_front = gather_changes(survey, CW_STIMULUS_FRONT, main, r, front),
       has_rear = gather_changes(survey, CW_STIMULUS_REAR, main, r, rear);

  if (has_front && !has_rear)
    r->rear_silent = has_rear = gather_silence(survey, CW_STIMULUS_REAR, r, front, rear);
  else if (has_rear && !has_front)
    r->front_silent = has_front = gather_silence(survey, CW_STIMULUS_FRONT, r, rear, front);
  else if (has_front && has_rear) {
    fill_unplaced(survey, CW_STIMULUS_FRONT, r, rear, front);
    fill_unplaced(survey, CW_STIMULUS_REAR, r, front, rear);
  }
  for (size_t i = 0; i < r->leads; i++) {
    CwSurveyedLead *l = &r->lead[i];
    l->front_change_db = has_front ? front[i] : NAN;
    l->rear_change_db = has_rear ? rear[i] : NAN;
    l->end = l->silent ? CW_SURVEY_UNKNOWN : end_of(l->front_change_db, l->rear_change_db);
  }
  doubt_unfaded(r);
  r->front_unheard = !has_front && cw_survey_find_take(survey, CW_STIMULUS_FRONT, 0, true);
  r->rear_unheard = !has_rear && cw_survey_find_take(survey, CW_STIMULUS_REAR, 0, true);
  g_free(front);
  g_free(rear);
}

/* --- volumes --- */

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
    respond_both(take, cw_accepted_take_lead(take, r->lead[i].lead), &a);
    respond_both(main, before, &b);
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

  r->clean_change_db = loud_change_db + lowest_clip_dbfs;
  if (steps > 0 && loud_change_db > 0) {
    r->clean_step = fmax(r->loud_step - ceil(-lowest_clip_dbfs / step_db - 1e-9), 0);
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
  conclude_clean(r, loud_middle, lowest);
}
