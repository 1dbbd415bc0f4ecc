/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/survey_private.h"
#include <math.h>
#include <stdlib.h>

#define FADED_DB                                                                                             \
  (-6.0)                /* a lead that falls by so much more than the least affected one follows the fader   \
                         */
#define MOVED_DB (-1.2) /* least fall of a lead that follows a fader turned at all */
#define STOP_DB (-20.0) /* a fader at its stop takes leads down by more */
#define SWAP_DB 1.5
#define SWAP_OCTAVES 0.4
#define SWAP_SECONDS 0.5e-3
#define HEARD 3.0           /* loudest block over a quiet one, amplitude, of a lead that plays */
#define SILENCED_DB (-60.0) /* stands for silence */
#define RANGE_DB 20.0

/* The change of a lead's level between a take and the survey's, over the lead's own band. */
static double lead_change_db(const CwAcceptedTake *take, const CwAcceptedTake *main, int lead)
{
  const CwAcceptedLead *now = cw_accepted_take_lead(take, lead), *before = cw_accepted_take_lead(main, lead);
  CwLeadResponse a, b;
  double top = 0;

  if (!now || !before)
    return NAN;
  cw_accepted_lead_sum(take, now, &a);
  cw_accepted_lead_sum(main, before, &b);
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

/* From which fall on a lead counts as taken away by a take's fader: by its stop, or by half of the deepest
 * fall where it was not turned as far. */
static double fall_limit(const CwSurveyResult *r, const double *change, double *deepest)
{
  *deepest = 0;
  for (size_t i = 0; i < r->leads; i++)
    *deepest = fmin(*deepest, isnan(change[i]) ? 0 : change[i]);
  return *deepest > FADED_DB && *deepest < MOVED_DB ? 0.5 * *deepest : FADED_DB;
}

static int end_of(double front_db, double rear_db, double front_limit, double rear_limit)
{
  bool falls_front = front_db < front_limit, falls_rear = rear_db < rear_limit;

  if (isnan(front_db) || isnan(rear_db) || (falls_front && falls_rear))
    return CW_SURVEY_UNKNOWN;
  return falls_rear ? CW_END_FRONT : falls_front ? CW_END_REAR : CW_END_UNFADED;
}

static void tell(CwSurveyResult *r, CwTroubleCode code, int take, double db)
{
  CwTrouble t = cw_survey_trouble(code, take);
  t.db = db;
  cw_survey_add_trouble(r, &t);
}

/* What the two takes say of the fader itself. front and rear: changes of the leads; deepest: of each. */
static void judge_fader(CwSurveyResult *r, const double *front, const double *rear, double deepest_front,
                        double deepest_rear)
{
  size_t same = 0, heard = 0;

  for (size_t i = 0; i < r->leads; i++) {
    heard += !r->lead[i].silent;
    same += front[i] < 0.5 * fmin(deepest_front, MOVED_DB) && rear[i] < 0.5 * fmin(deepest_rear, MOVED_DB);
  }
  if (same > 0) {
    tell(r, CW_TROUBLE_FADER_SAME, CW_STIMULUS_REAR, NAN);
    for (size_t i = 0; i < r->leads; i++)
      r->lead[i].end = CW_SURVEY_UNKNOWN;
    return;
  }
  if (deepest_front > MOVED_DB && deepest_rear > MOVED_DB && heard > 2) {
    tell(r, CW_TROUBLE_FADER_UNMOVED, CW_STIMULUS_FRONT, NAN);
    for (size_t i = 0; i < r->leads; i++)
      r->lead[i].doubt |= CW_DOUBT_END;
  }
  if (deepest_front < MOVED_DB && deepest_front > STOP_DB)
    tell(r, CW_TROUBLE_FADER_PART, CW_STIMULUS_FRONT, deepest_front);
  if (deepest_rear < MOVED_DB && deepest_rear > STOP_DB)
    tell(r, CW_TROUBLE_FADER_PART, CW_STIMULUS_REAR, deepest_rear);
}

/* --- front and rear by what they carry --- */

typedef struct {
  size_t leads, tweeters, centres;
  double level, low_octaves, earliest;
} EndLook;

static EndLook look_at_end(const CwSurveyResult *r, int end)
{
  EndLook look = {.level = -INFINITY, .low_octaves = INFINITY, .earliest = INFINITY};

  for (size_t i = 0; i < r->leads; i++) {
    const CwSurveyedLead *l = &r->lead[i];
    if (l->end != end)
      continue;
    look.leads++;
    look.tweeters += l->band == CW_BAND_HIGH;
    look.centres += l->side == CW_SIDE_BOTH && l->band != CW_BAND_BASS;
    look.level = fmax(look.level, l->level_dbv);
    look.low_octaves = fmin(look.low_octaves, isnan(l->low_hz) ? log2(20) : log2(l->low_hz));
    look.earliest = fmin(look.earliest, isnan(l->delay_seconds) ? INFINITY : l->delay_seconds);
  }
  return look;
}

/* Tweeters' and centre's leads are the front's, and rear leads are softer, thinner and later, if anything:
 * where all that speaks for the ends the other way round, the fader was turned the wrong way in both takes.
 */
static void doubt_swapped(CwSurveyResult *r)
{
  EndLook front = look_at_end(r, CW_END_FRONT), rear = look_at_end(r, CW_END_REAR);
  int swapped = 0, straight = 0;

  if (front.leads == 0 || rear.leads == 0)
    return;
  swapped += 2 * (rear.tweeters > 0 && front.tweeters == 0) + 2 * (rear.centres > 0 && front.centres == 0);
  straight += 2 * (front.tweeters > 0 && rear.tweeters == 0) + 2 * (front.centres > 0 && rear.centres == 0);
  swapped += (rear.level > front.level + SWAP_DB) + (rear.low_octaves < front.low_octaves - SWAP_OCTAVES) +
             (rear.earliest < front.earliest - SWAP_SECONDS);
  straight += (front.level > rear.level + SWAP_DB) + (front.low_octaves < rear.low_octaves - SWAP_OCTAVES) +
              (front.earliest < rear.earliest - SWAP_SECONDS);
  if (swapped < 2 || straight > 0)
    return;
  tell(r, CW_TROUBLE_FADER_SWAPPED, CW_STIMULUS_FRONT, NAN);
  for (size_t i = 0; i < r->leads; i++)
    r->lead[i].doubt |= CW_DOUBT_END;
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
  double deepest_front, deepest_rear, front_limit = fall_limit(r, front, &deepest_front),
                                      rear_limit = fall_limit(r, rear, &deepest_rear);
  for (size_t i = 0; i < r->leads; i++) {
    CwSurveyedLead *l = &r->lead[i];
    l->front_change_db = has_front ? front[i] : NAN;
    l->rear_change_db = has_rear ? rear[i] : NAN;
    l->end = l->silent ? CW_SURVEY_UNKNOWN
                       : end_of(l->front_change_db, l->rear_change_db, front_limit, rear_limit);
  }
  if (has_front && has_rear)
    judge_fader(r, front, rear, deepest_front, deepest_rear);
  doubt_unfaded(r);
  doubt_swapped(r);
  r->front_unheard = !has_front && cw_survey_find_take(survey, CW_STIMULUS_FRONT, 0, true);
  r->rear_unheard = !has_rear && cw_survey_find_take(survey, CW_STIMULUS_REAR, 0, true);
  g_free(front);
  g_free(rear);
}
