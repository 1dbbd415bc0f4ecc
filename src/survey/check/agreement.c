/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include "survey/survey_private.h"
#include <math.h>

#define LEVEL_DB 0.45     /* by which a level must be off to be told */
#define GROUP_DB 0.35     /* within which leads of one group move alike */
#define GAIN_NOISE_DB 1.5 /* within which recorder's noise and level must move alike */
#define STEPS_DB 1.0      /* by which the loud take may be off what its steps say */
#define TONE_DB 0.8

/* --- levels --- */

typedef struct {
  const CwAcceptedTake *take;
  double level[CW_SURVEY_MOST_LEADS]; /* against the take of the leads, by place in main; NAN */
  double shape[CW_SURVEY_MOST_LEADS], bass[CW_SURVEY_MOST_LEADS];
  double middle; /* median of the levels */
  double noise;  /* median change of the noise, dB */
} Levels;

static double bass_change(const CwLeadResponse *now, const CwLeadResponse *before)
{
  double low = cw_lead_response_change_db(now, before, 30, 90, 15, false),
         middle = cw_lead_response_change_db(now, before, 700, 5000, 15, false);
  return low - middle;
}

static bool read_levels(const CwLeadSurvey *survey, CwStimulusKind kind, const CwAcceptedTake *main,
                        Levels *l)
{
  double sorted[CW_SURVEY_MOST_LEADS], noise[CW_SURVEY_MOST_LEADS];
  size_t count = 0, noises = 0;

  *l = (Levels){.take = cw_survey_find_take(survey, kind, 0, false), .middle = NAN, .noise = NAN};
  for (size_t i = 0; l->take && i < main->leads && i < CW_SURVEY_MOST_LEADS; i++) {
    const CwAcceptedTake *take = cw_survey_find_take(survey, kind, main->lead[i].lead, false);
    const CwAcceptedLead *now = take ? cw_accepted_take_lead(take, main->lead[i].lead) : NULL;
    CwLeadResponse a, b;
    l->level[i] = l->shape[i] = l->bass[i] = NAN;
    if (!now)
      continue;
    cw_accepted_lead_sum(take, now, &a);
    cw_accepted_lead_sum(main, &main->lead[i], &b);
    if (!cw_lead_response_shapes(&a, &b, &l->level[i], &l->shape[i]))
      continue;
    l->bass[i] = bass_change(&a, &b);
    sorted[count++] = l->level[i];
    noise[noises++] = 20 * log10((now->noise_rms + 1e-12) / (main->lead[i].noise_rms + 1e-12));
  }
  l->middle = cw_median(sorted, count);
  l->noise = cw_median(noise, noises);
  return l->take && count > 0;
}

/* The side of a lead by its two responses; for what is compared here. */
static int side_of(const CwAcceptedLead *lead)
{
  double power[2] = {0, 0};
  for (int s = 0; s < 2; s++)
    for (size_t i = CW_LEAD_BELOW; i < CW_LEAD_POINTS; i++)
      if (cabs(lead->response[s].value[i]) > 4 * lead->response[s].noise[i])
        power[s] += pow(cabs(lead->response[s].value[i]), 2);
  return power[1] < 0.02 * power[0]   ? CW_SIDE_LEFT
         : power[0] < 0.02 * power[1] ? CW_SIDE_RIGHT
                                      : CW_SIDE_BOTH;
}

/* The mean of a group's levels; NAN unless all of the group are alike. */
static double group_level(const CwAcceptedTake *main, const double *level, int side, size_t *members)
{
  double low = INFINITY, high = -INFINITY;

  *members = 0;
  for (size_t i = 0; i < main->leads; i++)
    if (side_of(&main->lead[i]) == side && !isnan(level[i])) {
      low = fmin(low, level[i]);
      high = fmax(high, level[i]);
      (*members)++;
    }
  return *members && high - low < GROUP_DB ? 0.5 * (low + high) : NAN;
}

/* Balance: all left leads moved alike, all right ones too, and by another amount. how_much is told as right
 * over left. */
static bool is_balance(const CwAcceptedTake *main, const double *level, double *how_much)
{
  size_t lefts, rights;
  double left = group_level(main, level, CW_SIDE_LEFT, &lefts),
         right = group_level(main, level, CW_SIDE_RIGHT, &rights);

  *how_much = right - left;
  return lefts > 0 && rights > 0 && lefts + rights > 2 && fabs(right - left) > LEVEL_DB;
}

static void scale_lead(CwAcceptedLead *lead, double db)
{
  for (int s = 0; s < 2; s++)
    cw_lead_response_move(&lead->response[s], pow(10, db / 20), 0);
}

/* What two takes with fader and balance in their centre say alike of the take of the leads: by how much each
 * of its leads was lower than it should be against the others. */
static bool find_offsets(const Levels *quiet, const Levels *loud, const CwAcceptedTake *main, double *offset)
{
  bool any = false;

  for (size_t i = 0; i < main->leads; i++) {
    double a = quiet->level[i] - quiet->middle, b = loud->level[i] - loud->middle;
    offset[i] = fabs(a - b) < GROUP_DB + 0.2 * fabs(a) ? 0.5 * (a + b) : NAN;
    any = any || fabs(offset[i]) > LEVEL_DB;
  }
  return any;
}

static size_t count_moved(const CwAcceptedTake *main, const double *offset, size_t *last)
{
  size_t count = 0;
  for (size_t i = 0; i < main->leads; i++)
    if (fabs(offset[i]) > LEVEL_DB) {
      count++;
      *last = i;
    }
  return count;
}

/* The leads' offsets about their lowest group: what was turned down stands above it. */
static void count_from_lowest(const CwAcceptedTake *main, double *offset)
{
  double lowest = INFINITY;
  for (size_t i = 0; i < main->leads; i++)
    lowest = fmin(lowest, isnan(offset[i]) ? INFINITY : offset[i]);
  for (size_t i = 0; i < main->leads; i++)
    offset[i] -= lowest;
}

static void judge_offsets(const Levels *quiet, const Levels *loud, CwAcceptedTake *main, CwSurveyResult *r)
{
  double offset[CW_SURVEY_MOST_LEADS], most = 0;
  size_t last = 0;

  if (!find_offsets(quiet, loud, main, offset))
    return;
  CwTrouble t = cw_survey_trouble(CW_TROUBLE_FADER_OFF_CENTRE, CW_STIMULUS_LEADS);
  if (count_moved(main, offset, &last) == 1 && side_of(&main->lead[last]) == CW_SIDE_BOTH) {
    t = cw_survey_trouble(CW_TROUBLE_STEERED, CW_TROUBLE_NO_TAKE);
    t.lead = main->lead[last].lead;
    t.db = offset[last];
    cw_survey_add_trouble(r, &t);
    return;
  }
  if (is_balance(main, offset, &t.db))
    t.code = CW_TROUBLE_BALANCE;
  count_from_lowest(main, offset);
  for (size_t i = 0; i < main->leads; i++)
    most = fmax(most, isnan(offset[i]) ? 0 : offset[i]);
  if (t.code == CW_TROUBLE_FADER_OFF_CENTRE)
    t.db = most;
  if (count_moved(main, offset, &last) == 1 && t.code != CW_TROUBLE_BALANCE && main->leads > 2) {
    t.code = CW_TROUBLE_INPUT_LEVEL;
    t.lead = main->lead[last].lead;
  }
  for (size_t i = 0; i < main->leads; i++) /* as it would have been, had nothing been turned down */
    if (!isnan(offset[i]))
      scale_lead(&main->lead[i], offset[i]);
  cw_survey_add_trouble(r, &t);
}

/* A single take whose balance was off: only its own levels are touched, but it is told. */
static void judge_balance(const Levels *l, const CwAcceptedTake *main, CwSurveyResult *r)
{
  double heard[CW_SURVEY_MOST_LEADS], most = -INFINITY, how_much;

  for (size_t i = 0; i < main->leads; i++)
    most = fmax(most, isnan(l->level[i]) ? -INFINITY : l->level[i]);
  for (size_t i = 0; i < main->leads; i++) /* leads that the fader took away do not count */
    heard[i] = l->level[i] < most - 7 ? NAN : l->level[i];
  if (!is_balance(main, heard, &how_much))
    return;
  CwTrouble t = cw_survey_trouble(CW_TROUBLE_BALANCE, (int)l->take->kind);
  t.db = how_much;
  cw_survey_add_trouble(r, &t);
}

/* The level of the least affected leads of a take. */
static double unfaded_level(const Levels *l, const CwAcceptedTake *main)
{
  double most = NAN;
  for (size_t i = 0; i < main->leads; i++)
    most = isnan(l->level[i]) || most > l->level[i] ? most : l->level[i];
  return most;
}

static CwTrouble level_trouble(double off_db, double noise_db, int take)
{
  bool recorder = fabs(noise_db) > GAIN_NOISE_DB && fabs(noise_db - off_db) < GAIN_NOISE_DB;
  CwTrouble t = cw_survey_trouble(recorder ? CW_TROUBLE_RECORDER_GAIN : CW_TROUBLE_LEVEL, take);
  t.db = off_db;
  return t;
}

/* Front and rear are played at the survey's volume: what both say alike is the fault of the take of the
 * leads, what one says is its own. */
static void judge_fader_levels(const Levels *front, const Levels *rear, CwAcceptedTake *main,
                               CwSurveyResult *r)
{
  double f = front->take ? unfaded_level(front, main) : NAN, b = rear->take ? unfaded_level(rear, main) : NAN;
  bool off_f = fabs(f) > LEVEL_DB, off_b = fabs(b) > LEVEL_DB;

  if (off_f && off_b && fabs(f - b) < GROUP_DB) {
    CwTrouble t = level_trouble(-f, -front->noise, CW_STIMULUS_LEADS);
    cw_survey_add_trouble(r, &t);
    return;
  }
  for (int k = 0; k < 2; k++) {
    CwTrouble t =
        level_trouble(k ? b : f, k ? rear->noise : front->noise, k ? CW_STIMULUS_REAR : CW_STIMULUS_FRONT);
    if (k ? off_b : off_f)
      cw_survey_add_trouble(r, &t);
  }
}

/* Quiet and loud against their steps and the recorder's noise. */
static void judge_steps(const Levels *quiet, const Levels *loud, const CwAcceptedTake *main,
                        CwSurveyResult *r)
{
  double down = main->volume_step - quiet->take->volume_step,
         up = loud->take->volume_step - main->volume_step;
  double step_db = -quiet->middle / down, off = loud->middle - up * step_db;

  if (!(down > 0) || !(up > 0) || !(step_db > 0))
    return;
  bool gain_q = fabs(quiet->noise) > GAIN_NOISE_DB, gain_l = fabs(loud->noise) > GAIN_NOISE_DB;
  if (gain_q && gain_l && fabs(quiet->noise - loud->noise) < GAIN_NOISE_DB) {
    double step = (loud->middle - quiet->middle) / (up + down), both = quiet->middle + down * step;
    CwTrouble t = level_trouble(both, 0.5 * (quiet->noise + loud->noise), CW_STIMULUS_LOUD);
    if (fabs(both) > STEPS_DB) {
      r->loud_correction_db = -both;
      cw_survey_add_trouble(r, &t);
    }
    return;
  }
  if (fabs(off) < STEPS_DB)
    return;
  CwTrouble t = level_trouble(off, loud->noise, CW_STIMULUS_LOUD);
  if (t.code == CW_TROUBLE_RECORDER_GAIN)
    r->loud_correction_db = -off;
  else
    r->doubt |= CW_DOUBT_CLEAN;
  cw_survey_add_trouble(r, &t);
}

/* --- shapes --- */

static double median_of(const double *values, const CwAcceptedTake *main)
{
  double sorted[CW_SURVEY_MOST_LEADS];
  size_t count = 0;
  for (size_t i = 0; i < main->leads; i++)
    if (!isnan(values[i]))
      sorted[count++] = values[i];
  return cw_median(sorted, count);
}

/* The bass in a take at the survey's own volume is that of the survey's take, or somebody turned a tone
 * control. */
static void judge_tone(const Levels *front, const Levels *rear, const CwAcceptedTake *main, CwSurveyResult *r)
{
  const Levels *const both[] = {front, rear};
  for (int k = 0; k < 2; k++) {
    double bass = both[k]->take ? median_of(both[k]->bass, main) : NAN;
    CwTrouble t = cw_survey_trouble(CW_TROUBLE_TONE_CONTROL, k ? CW_STIMULUS_REAR : CW_STIMULUS_FRONT);
    t.db = bass;
    if (fabs(bass) > TONE_DB)
      cw_survey_add_trouble(r, &t);
  }
}

static bool is_troubled(const CwSurveyResult *r, int take)
{
  for (size_t i = 0; i < r->troubles; i++)
    if (r->trouble[i].take == take && !r->trouble[i].left_out)
      return true;
  return false;
}

#define SHAPE_DB 0.22

/* A lead that is shaped otherwise in a softer and in a louder take than in the survey's: something in the
 * radio goes by level. In one take alone: that take is disturbed, or the survey's is if all say so. */
static void judge_shapes(const Levels *l, size_t takes, const CwAcceptedTake *main, CwSurveyResult *r)
{
  for (size_t i = 0; i < main->leads; i++) {
    size_t differing = 0, heard = 0, which = 0;
    double most = 0;
    for (size_t k = 0; k < takes; k++) {
      if (!l[k].take || isnan(l[k].shape[i]))
        continue;
      heard++;
      if (l[k].shape[i] > SHAPE_DB) {
        differing++;
        which = k;
        most = fmax(most, l[k].shape[i]);
      }
    }
    if (differing == 0)
      continue;
    bool by_level = takes == 4 && l[2].shape[i] > SHAPE_DB && l[3].shape[i] > SHAPE_DB;
    bool alone = differing == 1 && heard > 1;
    CwTrouble t = cw_survey_trouble(by_level ? CW_TROUBLE_LIMITER : CW_TROUBLE_TAKES_DISAGREE,
                                    alone ? (int)l[which].take->kind : CW_STIMULUS_LEADS);
    t.lead = by_level ? 0 : main->lead[i].lead;
    t.db = most;
    if (by_level)
      r->doubt |= CW_DOUBT_LOUDNESS | CW_DOUBT_CLEAN;
    cw_survey_add_trouble(r, &t);
  }
}

void cw_survey_reconcile(CwLeadSurvey *survey, CwAcceptedTake *main, CwSurveyResult *r)
{
  static const CwStimulusKind kinds[] = {CW_STIMULUS_FRONT, CW_STIMULUS_REAR, CW_STIMULUS_QUIET,
                                         CW_STIMULUS_LOUD};
  g_autofree Levels *l = g_new0(Levels, 4);

  if (main->leads > CW_SURVEY_MOST_LEADS)
    return;
  bool disturbed = is_troubled(r, CW_STIMULUS_LEADS); /* then its fine response says nothing of others */
  if (!disturbed)
    cw_survey_put_channels_right(survey, main, r);
  for (size_t k = 0; k < 4; k++)
    if (!read_levels(survey, kinds[k], main, &l[k]))
      l[k].take = NULL;
  if (!disturbed) {
    judge_shapes(l, 4, main, r);
    judge_tone(&l[0], &l[1], main, r);
  }
  if (l[2].take && l[3].take)
    judge_offsets(&l[2], &l[3], main, r);
  for (size_t k = 0; k < 4; k++) { /* against the leads as they are now */
    if (l[k].take && read_levels(survey, kinds[k], main, &l[k]))
      judge_balance(&l[k], main, r);
  }
  judge_fader_levels(&l[0], &l[1], main, r);
  if (l[2].take && l[3].take)
    judge_steps(&l[2], &l[3], main, r);
}
