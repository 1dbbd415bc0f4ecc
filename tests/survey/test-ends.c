/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "accepted.h"

#include <string.h>

enum { LEADS = 5 };

/* Front and rear pair and a woofer that the fader leaves alone. */
static void make_leads(AcceptedLead *lead)
{
  memset(lead, 0, LEADS * sizeof *lead);
  for (size_t i = 0; i < 4; i++)
    lead[i].lead = radio_lead(i % 2 ? CW_PLAYED_RIGHT : CW_PLAYED_LEFT, 0.5, 2e-3);
  lead[4].lead = radio_lead(CW_PLAYED_BOTH, 0.4, 2e-3);
  radio_add_filter(&lead[4].lead, CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, 4, 120);
}

/* The track at one end of the fader: leads of the other end fall by fall_db, and all by volume_db, for a knob
 * is never turned back to the same place. */
static void fade(CwLeadSurvey *survey, CwStimulusKind kind, double fall_db, double volume_db)
{
  AcceptedLead lead[LEADS];
  make_leads(lead);
  for (size_t i = 0; i < LEADS; i++) {
    bool falls = kind == CW_STIMULUS_FRONT ? i == 2 || i == 3 : i == 0 || i == 1;
    lead[i].gain_db = volume_db + (falls ? fall_db : 0);
    lead[i].silenced = falls && fall_db < -90;
  }
  accepted_take(survey, kind, lead, LEADS, 1, 20, "all");
}

static CwLeadSurvey *begin(void)
{
  AcceptedLead lead[LEADS];
  CwLeadSurvey *survey = cw_lead_survey_new(1);
  make_leads(lead);
  accepted_take(survey, CW_STIMULUS_LEADS, lead, LEADS, 1, 20, "all");
  return survey;
}

static const int true_ends[LEADS] = {CW_END_FRONT, CW_END_FRONT, CW_END_REAR, CW_END_REAR, CW_END_UNFADED};

/* However far a fader takes the other end down, to silence too, and whatever the volume is off. */
static void test_both_ends(void)
{
  static const double falls[] = {-8, -20, -100}, volumes[] = {0, -3, 4};
  for (size_t k = 0; k < G_N_ELEMENTS(falls); k++) {
    g_autoptr(CwLeadSurvey) survey = begin();
    fade(survey, CW_STIMULUS_FRONT, falls[k], volumes[k]);
    fade(survey, CW_STIMULUS_REAR, falls[k], -volumes[k]);
    g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
    for (size_t i = 0; i < LEADS; i++) {
      g_assert_cmpint(r->lead[i].end, ==, true_ends[i]);
      if (falls[k] > -50)
        g_assert_cmpfloat_with_epsilon(MIN(r->lead[i].front_change_db, r->lead[i].rear_change_db),
                                       true_ends[i] == CW_END_UNFADED ? 0 : falls[k], 0.01);
    }
    g_assert_false(r->fader_one_way || r->fader_doubt || r->front_silent || r->rear_silent);
  }
}

/* Turned to one end alone, the other take with the fader in the middle: the leads that moved are told, the
 * bass is unfaded, and of the others nothing is. */
static void test_one_way(void)
{
  g_autoptr(CwLeadSurvey) survey = begin();
  fade(survey, CW_STIMULUS_FRONT, -20, 0);
  fade(survey, CW_STIMULUS_REAR, 0, 0);
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_true(r->fader_one_way && r->fader_doubt);
  for (size_t i = 0; i < LEADS; i++)
    g_assert_cmpint(r->lead[i].end, ==, i < 2 ? CW_SURVEY_UNKNOWN : i < 4 ? CW_END_REAR : CW_END_UNFADED);
}

/* One take is missing: no end is called, nothing was heard of either. */
static void test_missing(void)
{
  g_autoptr(CwLeadSurvey) survey = begin();
  fade(survey, CW_STIMULUS_FRONT, -20, 0);
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  for (size_t i = 0; i < LEADS; i++) {
    g_assert_cmpint(r->lead[i].end, ==, CW_SURVEY_UNKNOWN);
    g_assert_true(isnan(r->lead[i].rear_change_db));
  }
  g_assert_false(r->rear_unheard || r->front_unheard);
}

/* Makes the last take one in which no track was found, as where the fader silences all but the bass. */
static CwAcceptedTake *unplace(CwLeadSurvey *survey)
{
  CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, survey->takes->len - 1);
  take->unplaced = true;
  take->ppm_weight = 0;
  return take;
}

/* With the fader full to the rear of a car whose rear has no leads of its own here: no track is heard, and
 * that tells the front ones all the same. */
static void test_silent_end(void)
{
  g_autoptr(CwLeadSurvey) survey = begin();
  fade(survey, CW_STIMULUS_FRONT, 0, 0);
  fade(survey, CW_STIMULUS_REAR, -100, 0);
  CwAcceptedTake *rear = unplace(survey);
  for (size_t i = 2; i < 4; i++)
    rear->lead[i].loudest_rms = rear->lead[i].quiet_rms; /* all four are front leads */
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_true(r->rear_silent);
  g_assert_false(r->rear_unheard);
  for (size_t i = 0; i < 4; i++)
    g_assert_cmpint(r->lead[i].end, ==, CW_END_FRONT);
  g_assert_cmpint(r->lead[4].end, ==, CW_END_UNFADED);
}

/* A take in which the track was never played says nothing: a lead that the other end silenced is silent in it
 * too. */
static void test_unheard(void)
{
  for (int kind = CW_STIMULUS_FRONT; kind <= CW_STIMULUS_REAR; kind++) {
    CwStimulusKind other = kind == CW_STIMULUS_FRONT ? CW_STIMULUS_REAR : CW_STIMULUS_FRONT;
    g_autoptr(CwLeadSurvey) survey = begin();
    fade(survey, other, -30, 0);
    fade(survey, (CwStimulusKind)kind, -100, 0);
    CwAcceptedTake *silent = unplace(survey);
    for (size_t i = 0; i < LEADS; i++)
      silent->lead[i].loudest_rms = silent->lead[i].quiet_rms;
    g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
    g_assert_true(kind == CW_STIMULUS_FRONT ? r->front_unheard : r->rear_unheard);
    g_assert_false(r->front_silent || r->rear_silent);
    for (size_t i = 0; i < LEADS; i++)
      g_assert_cmpint(r->lead[i].end, ==, CW_SURVEY_UNKNOWN);
  }
}

/* Recordings of two leads at a time: one of them holds the front pair alone, and no track is in it with the
 * fader to the rear. */
static void test_unplaced_among_others(void)
{
  AcceptedLead lead[LEADS];
  g_autoptr(CwLeadSurvey) survey = begin();
  fade(survey, CW_STIMULUS_FRONT, -30, 0);
  make_leads(lead);
  accepted_take(survey, CW_STIMULUS_REAR, lead + 2, 3, 3, 20, "all");
  lead[0].silenced = lead[1].silenced = true;
  accepted_take(survey, CW_STIMULUS_REAR, lead, 2, 1, 20, "all");
  unplace(survey);
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  for (size_t i = 0; i < LEADS; i++)
    g_assert_cmpint(r->lead[i].end, ==, true_ends[i]);
}

/* --- volumes --- */

/* A take at another volume: middle_db above the survey's and the bass bass_db more, which a loudness does. */
static void turn(CwLeadSurvey *survey, CwStimulusKind kind, double step, double middle_db, double bass_db,
                 const double *clip_dbfs)
{
  AcceptedLead lead[LEADS];
  make_leads(lead);
  for (size_t i = 0; i < LEADS; i++) {
    lead[i].gain_db = middle_db;
    if (bass_db != 0) /* whole from 30 to 90 Hz, nothing from 700 Hz on */
      radio_add_section(&lead[i].lead, CW_SECTION_LOW_SHELF, 250, bass_db, 0.7);
    for (size_t t = 0; t < CW_STIMULUS_TONES && clip_dbfs; t++)
      lead[i].clip_dbfs[t] = clip_dbfs[t] - (i == 1 ? 1 : 0); /* lead 2 clips first */
  }
  accepted_take(survey, kind, lead, LEADS, 1, step, "all");
}

/* The bass against the middle, and nothing where the volume alone moved. A shelf reaches 98 % of its gain by
 * there. */
static void test_loudness(void)
{
  static const double bass_db[] = {0, 6, -4};
  for (size_t k = 0; k < G_N_ELEMENTS(bass_db); k++) {
    g_autoptr(CwLeadSurvey) survey = begin();
    turn(survey, CW_STIMULUS_QUIET, 8, -20, bass_db[k], NULL);
    g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
    g_assert_true(r->loudness_found == (bass_db[k] != 0));
    g_assert_cmpfloat_with_epsilon(r->loudness_db, bass_db[k], 0.05 * fabs(bass_db[k]) + 0.01);
    for (size_t i = 0; i < LEADS; i++)
      g_assert_cmpfloat_with_epsilon(r->lead[i].bass_change_db, bass_db[k], 0.05 * fabs(bass_db[k]) + 0.01);
    g_assert_cmpfloat(r->survey_step, ==, 20);
    g_assert_cmpfloat(r->quiet_step, ==, 8);
    g_assert_false(r->quiet_not_quieter);
    g_assert_true(isnan(r->clean_change_db));
  }
}

/* Take the larger change of two. */
static void test_largest_loudness(void)
{
  g_autoptr(CwLeadSurvey) survey = begin();
  turn(survey, CW_STIMULUS_QUIET, 8, -20, 3, NULL);
  turn(survey, CW_STIMULUS_LOUD, 40, 12, -5, NULL);
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_cmpfloat_with_epsilon(r->loudness_db, -5, 0.25);
}

/* 24 dB more in 20 steps; the first lead clips 5.5 dB below full scale, so the highest clean step is five
 * lower: 1.2 dB each, whole steps. What clips first bounds the level that is told. */
static void test_clean_volume(void)
{
  static const double clip_dbfs[CW_STIMULUS_TONES] = {-2, -4.5, -3};
  g_autoptr(CwLeadSurvey) survey = begin();
  turn(survey, CW_STIMULUS_LOUD, 40, 24, 0, clip_dbfs);
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_cmpfloat(r->loud_step, ==, 40);
  g_assert_cmpfloat(r->clean_step, ==, 35);
  g_assert_cmpfloat_with_epsilon(r->clean_change_db, 15 * 1.2, 0.01);
  g_assert_cmpfloat_with_epsilon(r->lead[0].clip_dbfs, -4.5, 1e-9);
  g_assert_cmpfloat_with_epsilon(r->lead[1].clip_dbfs, -5.5, 1e-9);
  g_assert_cmpfloat(r->lead[1].clip_tone_hz, ==, 1013);
  g_assert_cmpfloat_with_epsilon(r->lead[1].clean_dbv, r->lead[1].level_dbv + r->clean_change_db, 0.01);
  g_assert_cmpfloat(r->lead[1].clean_dbv, <=, r->lead[1].level_dbv + 24 - 5.5 + 0.01);
}

/* Without steps the change itself is told, and a lead that never clips leaves all of it clean. */
static void test_no_steps(void)
{
  g_autoptr(CwLeadSurvey) survey = begin();
  turn(survey, CW_STIMULUS_LOUD, NAN, 24, 0, NULL);
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_true(isnan(r->clean_step));
  g_assert_cmpfloat_with_epsilon(r->clean_change_db, 24, 0.01);
  for (size_t i = 0; i < LEADS; i++)
    g_assert_true(isnan(r->lead[i].clip_dbfs) && isnan(r->lead[i].clip_tone_hz));
}

/* The volume was not turned: nothing is taken from such a take. */
static void test_not_turned(void)
{
  g_autoptr(CwLeadSurvey) survey = begin();
  turn(survey, CW_STIMULUS_QUIET, 20, 0.3, 4, NULL);
  turn(survey, CW_STIMULUS_LOUD, 20, -0.3, 4, NULL);
  g_autoptr(CwSurveyResult) r = cw_lead_survey_conclude(survey);
  g_assert_true(r->quiet_not_quieter && r->loud_not_louder);
  g_assert_false(r->loudness_found);
  g_assert_true(isnan(r->clean_change_db));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/ends/both-ends", test_both_ends);
  g_test_add_func("/survey/ends/one-way", test_one_way);
  g_test_add_func("/survey/ends/missing", test_missing);
  g_test_add_func("/survey/ends/silent-end", test_silent_end);
  g_test_add_func("/survey/ends/unheard", test_unheard);
  g_test_add_func("/survey/ends/unplaced-among-others", test_unplaced_among_others);
  g_test_add_func("/survey/volumes/loudness", test_loudness);
  g_test_add_func("/survey/volumes/largest-loudness", test_largest_loudness);
  g_test_add_func("/survey/volumes/clean-volume", test_clean_volume);
  g_test_add_func("/survey/volumes/no-steps", test_no_steps);
  g_test_add_func("/survey/volumes/not-turned", test_not_turned);
  return g_test_run();
}
