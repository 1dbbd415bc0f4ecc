/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey/survey_record.h"
#include "survey/check/say_trouble.h"
#include <math.h>

#define DOUBT_MS 0.05 /* 2 cm of sound: less changes no sum that a bass lead is in */

/* What is beyond is noise, and short numbers read better. */
static double round_to(double value, double parts)
{
  return rint(value * parts) / parts;
}

static void write_response(CwRecord *lead, const CwSurveyedLead *l)
{
  double hz[CW_SURVEY_POINTS], db[CW_SURVEY_POINTS];

  for (guint i = 0; i < CW_SURVEY_POINTS; i++) {
    hz[i] = 20 * exp2(i / 12.0);
    db[i] = l->response_dbv[i];
  }
  cw_lead_take_response(lead, cw_numbers_new_curve(CW_SURVEY_POINTS, hz, db));
}

/* The phase with polarity and all-pass in it, without the delay: what sums need beside the response. */
static void write_phase(CwRecord *lead, const CwSurveyedLead *l)
{
  double hz[CW_SURVEY_POINTS], degrees[CW_SURVEY_POINTS];

  if (isnan(l->delay_seconds))
    return;
  for (guint i = 0; i < CW_SURVEY_POINTS; i++) {
    CwComplex value = l->value[CW_LEAD_BELOW + i * (CW_LEAD_PER_OCTAVE / 12)];
    hz[i] = 20 * exp2(i / 12.0);
    degrees[i] =
        value == 0
            ? NAN
            : 180 / M_PI * carg(value * cexp(-2 * M_PI * I * hz[i] * (l->delay_in_value - l->delay_seconds)));
  }
  cw_lead_take_phase(lead, cw_numbers_new_curve(CW_SURVEY_POINTS, hz, degrees));
}

static const struct {
  unsigned doubt;
  const char *key;
} doubts[] = {
    {CW_DOUBT_SIDE, "side"},         {CW_DOUBT_END, "end"},           {CW_DOUBT_BAND, "band"},
    {CW_DOUBT_POLARITY, "polarity"}, {CW_DOUBT_DELAY, "delay"},       {CW_DOUBT_LEVEL, "level"},
    {CW_DOUBT_RESPONSE, "response"}, {CW_DOUBT_CLIP, "clip"},         {CW_DOUBT_ALL_PASS, "all_pass"},
    {CW_DOUBT_CLOCK, "player_ppm"},  {CW_DOUBT_LOUDNESS, "loudness"}, {CW_DOUBT_CLEAN, "clean_volume_step"},
};

/* The keys of what is in doubt; list takes G_N_ELEMENTS(doubts) + 1. */
static const char *const *list_doubts(unsigned doubt, const char **list)
{
  guint count = 0;
  for (guint i = 0; i < G_N_ELEMENTS(doubts); i++)
    if (doubt & doubts[i].doubt)
      list[count++] = doubts[i].key;
  list[count] = NULL;
  return count ? list : NULL;
}

static void write_trouble(CwRecord *survey, const CwTrouble *t)
{
  CwRecord *trouble = cw_survey_add_to_troubles(survey);

  cw_told_trouble_set_code(trouble, cw_trouble_name(t->code));
  cw_told_trouble_set_take(trouble,
                           t->take == CW_TROUBLE_NO_TAKE ? NULL : cw_stimulus_name((CwStimulusKind)t->take));
  cw_told_trouble_set_lead(trouble, t->lead ? t->lead : CW_NO_INTEGER);
  cw_told_trouble_set_other(trouble, t->other ? t->other : CW_NO_INTEGER);
  cw_told_trouble_set_seconds(trouble, round_to(t->seconds, 1000));
  cw_told_trouble_set_hz(trouble, round_to(t->hz, 10));
  cw_told_trouble_set_amount(trouble, round_to(t->db, 100));
  cw_told_trouble_set_left(trouble, round_to(t->left, 1000));
  cw_told_trouble_set_right(trouble, round_to(t->right, 1000));
  cw_told_trouble_set_left_out(trouble, t->left_out);
}

static int number_or_none(gint64 number)
{
  return number == CW_NO_INTEGER ? 0 : (int)number;
}

gboolean cw_job_read_trouble(CwRecord *record, CwTrouble *t)
{
  *t = (CwTrouble){CW_TROUBLES,
                   CW_TROUBLE_NO_TAKE,
                   number_or_none(cw_told_trouble_get_lead(record)),
                   number_or_none(cw_told_trouble_get_other(record)),
                   cw_told_trouble_get_seconds(record),
                   cw_told_trouble_get_hz(record),
                   cw_told_trouble_get_amount(record),
                   cw_told_trouble_get_left(record),
                   cw_told_trouble_get_right(record),
                   cw_told_trouble_get_left_out(record)};
  for (int i = 0; i < CW_TROUBLES; i++)
    if (g_strcmp0(cw_trouble_name((CwTroubleCode)i), cw_told_trouble_get_code(record)) == 0)
      t->code = (CwTroubleCode)i;
  for (int i = 0; i < CW_STIMULUS_KINDS; i++)
    if (g_strcmp0(cw_stimulus_name((CwStimulusKind)i), cw_told_trouble_get_take(record)) == 0)
      t->take = i;
  return t->code != CW_TROUBLES;
}

static void write_lead(CwRecord *survey, const CwSurveyedLead *l)
{
  CwRecord *lead = cw_survey_add_to_leads(survey);

  cw_lead_set_lead(lead, l->lead);
  cw_lead_set_side(lead, l->side);
  cw_lead_set_end(lead, l->end);
  cw_lead_set_band(lead, l->band);
  cw_lead_set_low_hz(lead, l->low_hz);
  cw_lead_set_high_hz(lead, l->high_hz);
  cw_lead_set_polarity(lead, l->polarity > 0   ? CW_POLARITY_NORMAL
                             : l->polarity < 0 ? CW_POLARITY_INVERTED
                                               : -1);
  cw_lead_set_delay_ms(lead, round_to(1e3 * l->delay_seconds, 1e5));
  cw_lead_set_delay_deviation_ms(
      lead, isfinite(l->delay_deviation_seconds) ? round_to(1e3 * l->delay_deviation_seconds, 1e5) : NAN);
  cw_lead_set_level_dbv(lead, l->level_dbv);
  cw_lead_set_clean_dbv(lead, isfinite(l->clean_dbv) ? l->clean_dbv : NAN);
  cw_lead_set_all_pass(lead, l->all_pass);
  cw_lead_set_all_pass_hz(lead, l->all_pass_hz);
  cw_lead_set_all_pass_q(lead, l->all_pass_q);
  cw_lead_set_clip_dbfs(lead, l->clip_dbfs);
  cw_lead_set_clip_tone_hz(lead, l->clip_tone_hz);
  cw_lead_set_clip_one_side(lead, FALSE); /* the tones are on both channels */
  cw_lead_set_noise_dbv(lead, l->noise_dbv);
  cw_lead_set_hum_dbv(lead, l->hum_dbv);
  cw_lead_set_linear_phase(lead, l->linear_phase);
  if (isfinite(l->left) && l->left * l->left + l->right * l->right > 0) {
    cw_lead_set_mix_left(lead, round_to(l->left, 1000));
    cw_lead_set_mix_right(lead, round_to(l->right, 1000));
  }
  const char *list[G_N_ELEMENTS(doubts) + 1];
  cw_lead_set_doubtful(lead, list_doubts(l->doubt, list));
  write_response(lead, l);
  write_phase(lead, l);
}

static gint64 whole_step(double step)
{
  return isnan(step) ? CW_NO_INTEGER : (gint64)lrint(step);
}

CwRecord *cw_job_survey_record(const CwSurveyResult *r)
{
  CwRecord *survey = cw_record_new(cw_survey_get_type());

  cw_survey_set_player_ppm(survey, round_to(r->player_ppm, 1e4));
  cw_survey_set_loud_volume_step(survey, whole_step(r->loud_step));
  cw_survey_set_clean_volume_step(survey, whole_step(r->clean_step));
  cw_survey_set_volts_per_full_scale(survey, r->volts_per_full_scale);
  cw_survey_set_volts_untold(survey, r->volts_untold);
  cw_survey_set_loudness_found(survey, r->loudness_found);
  cw_survey_set_loudness_db(survey, r->loudness_found ? round_to(r->loudness_db, 100) : NAN);
  cw_survey_set_seat_setting(survey, r->seat ? r->seat : "");
  cw_survey_set_other_seat_setting(survey, r->other_seat);
  cw_survey_set_seat_active(survey, r->seat_active);
  cw_survey_set_seat_delay_ms(survey, r->seat_found ? round_to(1e3 * r->seat_delay_seconds, 1e4) : NAN);
  cw_survey_set_seat_side(survey, r->seat_found ? r->seat_side : -1);
  cw_survey_set_silent_fader(survey, r->rear_silent ? CW_FADER_REAR : r->front_silent ? CW_FADER_FRONT : -1);
  const char *list[G_N_ELEMENTS(doubts) + 1];
  cw_survey_set_doubtful(survey, list_doubts(r->doubt, list));
  for (size_t i = 0; i < r->troubles; i++)
    write_trouble(survey, &r->trouble[i]);
  for (size_t i = 0; i < r->leads; i++)
    write_lead(survey, &r->lead[i]);
  return survey;
}

double cw_job_delay_doubt_ms(CwRecord *lead)
{
  double doubt_ms = 2 * cw_lead_get_delay_deviation_ms(lead);
  return cw_lead_has_delay_ms(lead) && doubt_ms > DOUBT_MS ? doubt_ms : 0;
}
