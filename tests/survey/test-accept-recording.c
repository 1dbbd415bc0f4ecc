/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "radio.h"
#include "survey/survey_private.h"

#include <math.h>
#include <string.h>

static RadioRecording record(CwStimulusKind kind)
{
  RadioLead lead[2] = {radio_lead(CW_PLAYED_LEFT, 0.5, 0), radio_lead(CW_PLAYED_LEFT, -0.3, 1e-3)};
  lead[0].noise_rms = lead[1].noise_rms = 1e-4;
  return radio_record(kind, lead, 2);
}

static char *accept(CwLeadSurvey *survey, CwStimulusKind kind, RadioRecording *r)
{
  char *fault = radio_accept(survey, kind, r, 20, "all");
  radio_clear(r);
  return fault;
}

/* A recording that is fit for use is kept with what was noted beside it, and what was heard of each lead. */
static void test_fit(void)
{
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
  RadioRecording r = record(CW_STIMULUS_FRONT);
  g_assert_null(accept(survey, CW_STIMULUS_FRONT, &r));
  g_assert_cmpuint(cw_lead_survey_count(survey, CW_STIMULUS_FRONT), ==, 1);
  g_assert_cmpuint(cw_lead_survey_count(survey, CW_STIMULUS_REAR), ==, 0);
  const CwAcceptedTake *take = cw_survey_find_take(survey, CW_STIMULUS_FRONT, 2, false);
  g_assert_nonnull(take);
  g_assert_null(cw_survey_find_take(survey, CW_STIMULUS_FRONT, 3, false));
  g_assert_null(cw_survey_find_take(survey, CW_STIMULUS_FRONT, 0, true));
  g_assert_cmpfloat(take->volume_step, ==, 20);
  g_assert_cmpstr(take->seat, ==, "all");
  g_assert_cmpfloat(take->track_rate_hz, ==, RADIO_RATE_HZ);
  g_assert_cmpfloat_with_epsilon(take->player_ppm, 0, 0.05);
  const CwAcceptedLead *lead = cw_accepted_take_lead(take, 2);
  g_assert_cmpfloat_with_epsilon(lead->response[0].peak_seconds, 1e-3, 1 / RADIO_RATE_HZ);
  g_assert_cmpfloat_with_epsilon(cabs(lead->response[0].value[CW_LEAD_BELOW + 120]), 0.3, 1e-3);
  g_assert_cmpfloat(lead->loudest_rms, >, 100 * lead->quiet_rms);
  g_assert_null(cw_accepted_take_lead(take, 3));
}

/* Whatever is wrong is refused with words that name it, and is not kept. */
static void test_faults(void)
{
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
  RadioRecording r = record(CW_STIMULUS_FRONT);
  g_autofree char *other = accept(survey, CW_STIMULUS_REAR, &r);
  g_assert_nonnull(strstr(other, "\"front\""));
  g_assert_nonnull(strstr(other, "\"rear\""));

  r = record(CW_STIMULUS_QUIET);
  r.frames -= 2 * (size_t)RADIO_RATE_HZ;
  g_autofree char *cut_end = accept(survey, CW_STIMULUS_QUIET, &r);
  g_assert_nonnull(strstr(cut_end, "ends before"));

  r = record(CW_STIMULUS_QUIET);
  size_t second = (size_t)RADIO_RATE_HZ;
  for (size_t c = 0; c < 2; c++)
    memmove(r.channel[c], r.channel[c] + second, (r.frames - second) * sizeof(double));
  r.frames -= second;
  g_autofree char *cut_start = accept(survey, CW_STIMULUS_QUIET, &r);
  g_assert_nonnull(strstr(cut_start, "begins after"));

  r = record(CW_STIMULUS_QUIET);
  for (size_t i = 0; i < 3; i++)
    r.channel[1][100000 + i] = 1;
  g_autofree char *clipped = accept(survey, CW_STIMULUS_QUIET, &r);
  g_assert_nonnull(strstr(clipped, "lead 2"));

  r = record(CW_STIMULUS_QUIET);
  for (size_t c = 0; c < 2; c++)
    for (size_t i = r.frames / 2; i < r.frames; i++)
      r.channel[c][i] *= pow(10, 0.4 / 20);
  g_autofree char *turned = accept(survey, CW_STIMULUS_QUIET, &r);
  g_assert_nonnull(strstr(turned, "0.4 dB"));

  r = record(CW_STIMULUS_QUIET);
  for (size_t c = 0; c < 2; c++)
    memset(r.channel[c], 0, r.frames * sizeof(double));
  g_autofree char *nothing = accept(survey, CW_STIMULUS_QUIET, &r);
  g_assert_nonnull(strstr(nothing, "none of the test tracks"));

  r = record(CW_STIMULUS_QUIET);
  size_t at = RADIO_LEAD_IN + 2 * second;
  for (size_t c = 0; c < 2; c++)
    memmove(r.channel[c] + at, r.channel[c] + at + second, (r.frames - at - second) * sizeof(double));
  r.frames -= second;
  g_autofree char *paused = accept(survey, CW_STIMULUS_QUIET, &r);
  g_assert_nonnull(strstr(paused, "paused or skipped"));
  for (int kind = 0; kind < CW_STIMULUS_KINDS; kind++)
    g_assert_cmpuint(cw_lead_survey_count(survey, (CwStimulusKind)kind), ==, 0);
}

/* A third of a decibel between markers is what a recorder may do by itself. */
static void test_steady_enough(void)
{
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
  RadioRecording r = record(CW_STIMULUS_QUIET);
  for (size_t c = 0; c < 2; c++)
    for (size_t i = r.frames / 2; i < r.frames; i++)
      r.channel[c][i] *= pow(10, 0.2 / 20);
  g_assert_null(accept(survey, CW_STIMULUS_QUIET, &r));
}

/* At an end of the fader, where all leads may be silent, a recording of silence that is long enough is kept
 * as such; at another kind, or where it is short, or where something sounds, it is refused. */
static void test_faded(void)
{
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
  RadioLead silent = radio_lead(0, 0, 0);
  silent.noise_rms = 1e-4;
  RadioRecording r = radio_record(CW_STIMULUS_REAR, &silent, 1);
  g_assert_null(accept(survey, CW_STIMULUS_REAR, &r));
  const CwAcceptedTake *take = cw_survey_find_take(survey, CW_STIMULUS_REAR, 1, true);
  g_assert_nonnull(take);
  g_assert_true(take->unplaced);
  g_assert_cmpfloat(take->ppm_weight, ==, 0);
  g_assert_cmpfloat_with_epsilon(take->lead[0].loudest_rms, 1e-4, 1e-5);
  g_assert_cmpuint(cw_lead_survey_count(survey, CW_STIMULUS_REAR), ==, 0); /* no track in it */

  r = radio_record(CW_STIMULUS_REAR, &silent, 1);
  r.frames /= 2;
  g_autofree char *brief = accept(survey, CW_STIMULUS_REAR, &r);
  g_assert_nonnull(brief);
  r = radio_record(CW_STIMULUS_QUIET, &silent, 1);
  g_autofree char *quiet = accept(survey, CW_STIMULUS_QUIET, &r);
  g_assert_nonnull(quiet);
  r = radio_record(CW_STIMULUS_REAR, &silent, 1);
  for (size_t i = 100000; i < 130000; i++) /* somebody speaks */
    r.channel[0][i] += 0.01 * sin(2 * G_PI * 3000 * (double)i / RADIO_RATE_HZ);
  g_autofree char *spoken = accept(survey, CW_STIMULUS_REAR, &r);
  g_assert_nonnull(spoken);
}

/* Before leads are recorded again, what was heard of them is forgotten: of that track and seat, and where no
 * other lead was in the recording. */
static void test_forget(void)
{
  static const int both[] = {1, 2}, one[] = {1};
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(1);
  RadioRecording r = record(CW_STIMULUS_FRONT);
  g_assert_null(accept(survey, CW_STIMULUS_FRONT, &r));
  cw_lead_survey_forget(survey, CW_STIMULUS_FRONT, "all", one, 1); /* lead 2 is in it */
  cw_lead_survey_forget(survey, CW_STIMULUS_FRONT, "driver", both, 2);
  cw_lead_survey_forget(survey, CW_STIMULUS_REAR, "all", both, 2);
  g_assert_cmpuint(cw_lead_survey_count(survey, CW_STIMULUS_FRONT), ==, 1);
  cw_lead_survey_forget(survey, CW_STIMULUS_FRONT, "all", both, 2);
  g_assert_cmpuint(cw_lead_survey_count(survey, CW_STIMULUS_FRONT), ==, 0);
  cw_lead_survey_free(NULL);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/accept-recording/fit", test_fit);
  g_test_add_func("/survey/accept-recording/faults", test_faults);
  g_test_add_func("/survey/accept-recording/steady-enough", test_steady_enough);
  g_test_add_func("/survey/accept-recording/faded", test_faded);
  g_test_add_func("/survey/accept-recording/forget", test_forget);
  return g_test_run();
}
