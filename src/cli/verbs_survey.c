/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "job/survey/survey.h"
#include "job/survey/survey_mix.h"
#include "job/survey/tracks.h"
#include "job/survey/volts.h"
#include "vehicle/json/document.h"
#include <math.h>
#include <stdio.h>

static double rate_hz;

static const GOptionEntry tracks_entries[] = {
    {"rate", 0, 0, G_OPTION_ARG_DOUBLE, &rate_hz,
     "Sample rate of the tracks: 44100 (unless told), 48000, 88200 or 96000", "HZ"},
    {0},
};

static gboolean run_tracks(char **arguments, gboolean json, GError **error)
{
  double rate = rate_hz ? rate_hz : CW_TRACKS_RATE_HZ;

  if (!cw_job_write_tracks(arguments[0], rate, cw_verb_replace(), error))
    return FALSE;
  g_autoptr(CwRecord) index = cw_job_track_index(rate);
  g_autofree char *text = json ? cw_record_to_indented_json(index) : cw_job_track_list(index);
  return cw_print(text, error);
}

static char *tone_path;
static double meter_v = -1;
static int tone_channel = 1, tone_lead, left_out, taken_in, redone;

static const GOptionEntry survey_entries[] = {
    {"volts-tone", 0, 0, G_OPTION_ARG_FILENAME, &tone_path,
     "A recording of the volts track: with --volts it gives the levels in volts", "REC.wav"},
    {"volts", 0, 0, G_OPTION_ARG_DOUBLE, &meter_v,
     "What the multimeter (volts AC) read on that lead while the tone played", "V"},
    {"volts-channel", 0, 0, G_OPTION_ARG_INT, &tone_channel,
     "The channel of the recording that the lead is on, 1 unless told", "K"},
    {"volts-lead", 0, 0, G_OPTION_ARG_INT, &tone_lead, "The lead, to be noted", "N"},
    {"leave-out", 0, 0, G_OPTION_ARG_INT, &left_out, "Leave a lead out of the mix", "N"},
    {"take-in", 0, 0, G_OPTION_ARG_INT, &taken_in, "Take a lead that was left out into the mix again", "N"},
    {"redo", 0, 0, G_OPTION_ARG_INT, &redone,
     "Work the correction of a lead's input out again, in place of what was changed by hand", "N"},
    {0},
};

/* A line a lead, for people. */
static char *tell_survey(CwRecord *survey)
{
  GString *text = g_string_new(NULL);
  CwList *leads = cw_survey_get_leads(survey);
  static const char *const sides[] = {"left", "right", "both"}, *const ends[] = {"front", "rear", "unfaded"},
                           *const bands[] = {"high", "mid", "low", "bass", "full"};

  for (guint i = 0; i < cw_list_get_length(leads); i++) {
    CwRecord *l = cw_list_get(leads, i);
    int side = cw_lead_get_side(l), end = cw_lead_get_end(l), band = cw_lead_get_band(l),
        polarity = cw_lead_get_polarity(l);
    double clean = cw_lead_get_clean_dbv(l);
    g_autofree char *volts =
        isnan(clean) ? g_strdup("") : g_strdup_printf("  clean %.3g V", pow(10, clean / 20));
    g_string_append_printf(text, "lead %2d  %-6s %-8s %-5s %-9s %9.3f ms  %6.1f dBV%s%s\n",
                           (int)cw_lead_get_lead(l), side < 0 ? "?" : sides[side], end < 0 ? "?" : ends[end],
                           band < 0 ? "?" : bands[band],
                           polarity < 0 ? "?"
                           : polarity   ? "inverted"
                                        : "normal",
                           cw_lead_get_delay_ms(l), cw_lead_get_level_dbv(l), volts,
                           cw_lead_get_all_pass(l) ? "  all-pass" : "");
  }
  return g_string_free(text, FALSE);
}

/* The multimeter's reading, where the options bring one. */
static gboolean read_volts(CwRecord *vehicle, GError **error)
{
  if (!tone_path && meter_v < 0)
    return TRUE;
  if (!tone_path || meter_v < 0 || tone_channel < 1 || tone_lead < 0 || tone_lead > 64) {
    g_set_error(
        error, CW_USAGE_ERROR, 0,
        "--volts-tone REC.wav and --volts V belong together; channels count from 1, leads from 1 to 64");
    return FALSE;
  }
  CwVoltsToneReading reading;
  g_autoptr(CwRecording) recording = cw_recording_read(tone_path, error);
  if (!recording)
    return FALSE;
  if (!cw_job_read_volts(vehicle, recording, (guint)tone_channel - 1, meter_v,
                         tone_lead ? tone_lead : CW_NO_INTEGER, &reading, error)) {
    g_prefix_error(error, "%s: ", tone_path);
    return FALSE;
  }
  fprintf(stderr,
          "volts: the recorder's full scale is %.4g V peak (tone of %.1f s, %+.1f ppm, %.2g %% of else)\n",
          cw_job_volts_at_full_scale(vehicle), reading.seconds, reading.ppm, reading.other_percent);
  return TRUE;
}

static gboolean skip(CwRecord *vehicle, int lead, gboolean skipped, GError **error)
{
  CwHandOutcome outcome;

  if (!cw_job_skip_lead(vehicle, lead, skipped, &outcome))
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "lead %d: the survey has no such lead", lead);
  if (outcome.kept + outcome.set_aside + outcome.restored)
    fprintf(stderr, "changed by hand: kept in %u inputs, set aside with %u, brought back in %u\n",
            outcome.kept, outcome.set_aside, outcome.restored);
  return TRUE;
}

/* Leads left out, taken in, worked out again, where the options say so. */
static gboolean change_leads(CwRecord *vehicle, GError **error)
{
  if ((left_out && !skip(vehicle, left_out, TRUE, error)) ||
      (taken_in && !skip(vehicle, taken_in, FALSE, error)))
    return FALSE;
  if (redone && !cw_job_redo_lead(vehicle, redone))
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "lead %d: the mix does not use it", redone);
  return TRUE;
}

static gboolean print_survey(CwRecord *survey, gboolean json, GError **error)
{
  const char *const *refused = cw_survey_get_refused(survey);

  for (guint i = 0; refused && refused[i]; i++)
    fprintf(stderr, "not used: %s\n", refused[i]);
  g_autofree char *text = json ? cw_record_to_json(survey, NULL) : tell_survey(survey);
  return cw_print(text, error);
}

/* unread counts the recordings that the list is wrong about. */
static gboolean survey_takes(CwProject *project, const char *path, guint *unread, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwSurveyWork) work = cw_survey_work_read(vehicle, path, error);

  if (!work)
    return FALSE;
  if (tone_path)
    cw_survey_work_set_volts(work, cw_job_volts_at_full_scale(vehicle));
  if (!cw_survey_work_run(work, NULL, NULL, NULL, error))
    return FALSE;
  cw_survey_work_store(work, project);
  g_autofree char *replaced = cw_survey_work_tell_replaced(work);
  if (replaced)
    fprintf(stderr, "%s\n", replaced);
  *unread = cw_survey_work_count_unread(work);
  return TRUE;
}

/* What could be done is done and printed then, but the list asked for more. */
static gboolean tell_unread(const char *path, guint unread, GError **error)
{
  return unread == 0 ||
         cw_job_refuse(
             error, CW_JOB_ERROR_RECORDING,
             "%s: %u of its recordings could not be read as it says, see above; the survey was made "
             "of the others and stored",
             path, unread);
}

static gboolean run_survey(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);

  if (!project)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  const char *what = arguments[1] ? "Survey of the factory signal"
                     : tone_path  ? "Volts by the multimeter"
                                  : "Leads of the mix";
  guint unread = 0;
  if (!arguments[1] && !tone_path && meter_v < 0 && !left_out && !taken_in && !redone) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "survey CAR: TAKES.json or an option was expected");
    return FALSE;
  }
  if (!read_volts(vehicle, error) || (arguments[1] && !survey_takes(project, arguments[1], &unread, error)) ||
      !change_leads(vehicle, error) || !cw_project_commit(project, what, error))
    return FALSE;
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  if (survey)
    return print_survey(survey, json, error) && tell_unread(arguments[1], unread, error);
  g_autofree char *text = json ? cw_record_to_json(cw_vehicle_get_volts_reading(vehicle), NULL) : NULL;
  return !text || cw_print(text, error);
}

const CwVerb cw_verbs_survey[] = {
    {"tracks", "DIR", "test tracks for the factory radio, and what to do with them", 1, 1, tracks_entries,
     run_tracks},
    {"survey", "CAR [TAKES.json]", "analyses recorded leads, stores and prints the result", 1, 2,
     survey_entries, run_survey},
    {0},
};
