/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey/survey_record.h"
#include <math.h>

#define DOUBT_MS 0.05 /* 2 cm of sound: less changes no sum that a bass lead is in */

enum { FADER_FRONT, FADER_CENTRE, FADER_REAR };

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
  cw_record_take_numbers(lead, "response", cw_numbers_new_curve(CW_SURVEY_POINTS, hz, db));
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
  cw_record_take_numbers(lead, "phase", cw_numbers_new_curve(CW_SURVEY_POINTS, hz, degrees));
}

static void write_lead(CwRecord *survey, const CwSurveyedLead *l)
{
  CwRecord *lead = cw_record_add_child(survey, "leads");

  cw_record_set_integer(lead, "lead", l->lead);
  cw_record_set_choice(lead, "side", l->side);
  cw_record_set_choice(lead, "end", l->end);
  cw_record_set_choice(lead, "band", l->band);
  cw_record_set_number(lead, "low_hz", l->low_hz);
  cw_record_set_number(lead, "high_hz", l->high_hz);
  cw_record_set_choice(lead, "polarity",
                       l->polarity > 0   ? CW_POLARITY_NORMAL
                       : l->polarity < 0 ? CW_POLARITY_INVERTED
                                         : -1);
  cw_record_set_number(lead, "delay_ms", round_to(1e3 * l->delay_seconds, 1e5));
  cw_record_set_number(lead, "delay_deviation_ms", round_to(1e3 * l->delay_deviation_seconds, 1e5));
  cw_record_set_number(lead, "level_dbv", l->level_dbv);
  cw_record_set_number(lead, "clean_dbv", l->clean_dbv);
  cw_record_set_boolean(lead, "all_pass", l->all_pass);
  cw_record_set_number(lead, "all_pass_hz", l->all_pass_hz);
  cw_record_set_number(lead, "all_pass_q", l->all_pass_q);
  cw_record_set_number(lead, "clip_dbfs", l->clip_dbfs);
  cw_record_set_number(lead, "clip_tone_hz", l->clip_tone_hz);
  cw_record_set_boolean(lead, "clip_one_side", FALSE); /* the tones are on both channels */
  cw_record_set_number(lead, "noise_dbv", l->noise_dbv);
  cw_record_set_number(lead, "hum_dbv", l->hum_dbv);
  write_response(lead, l);
  write_phase(lead, l);
}

static void set_step(CwRecord *survey, const char *key, double step)
{
  cw_record_set_integer(survey, key, isnan(step) ? CW_NO_INTEGER : (gint64)lrint(step));
}

CwRecord *cw_job_survey_record(const CwSurveyResult *r)
{
  CwRecord *survey = cw_record_new(cw_survey_get_type());

  cw_record_set_number(survey, "player_ppm", round_to(r->player_ppm, 1e4));
  set_step(survey, "loud_volume_step", r->loud_step);
  set_step(survey, "clean_volume_step", r->clean_step);
  cw_record_set_number(survey, "volts_per_full_scale", r->volts_per_full_scale);
  cw_record_set_boolean(survey, "volts_untold", r->volts_untold);
  cw_record_set_boolean(survey, "loudness_found", r->loudness_found);
  cw_record_set_number(survey, "loudness_db", r->loudness_found ? round_to(r->loudness_db, 100) : NAN);
  cw_record_set_text(survey, "seat_setting", r->seat ? r->seat : "");
  cw_record_set_text(survey, "other_seat_setting", r->other_seat);
  cw_record_set_boolean(survey, "seat_active", r->seat_active);
  cw_record_set_number(survey, "seat_delay_ms",
                       r->seat_found ? round_to(1e3 * r->seat_delay_seconds, 1e4) : NAN);
  cw_record_set_choice(survey, "seat_side", r->seat_found ? r->seat_side : -1);
  cw_record_set_choice(survey, "silent_fader",
                       r->rear_silent    ? FADER_REAR
                       : r->front_silent ? FADER_FRONT
                                         : -1);
  for (size_t i = 0; i < r->leads; i++)
    write_lead(survey, &r->lead[i]);
  return survey;
}

double cw_job_delay_doubt_ms(CwRecord *lead)
{
  double doubt_ms = 2 * cw_record_get_number(lead, "delay_deviation_ms");
  return cw_record_is_known(lead, "delay_ms") && doubt_ms > DOUBT_MS ? doubt_ms : 0;
}
