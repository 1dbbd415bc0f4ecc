/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "job/survey.h"
#include "job/tracks.h"
#include "vehicle/document.h"
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

  if (!cw_job_write_tracks(arguments[0], rate, error))
    return FALSE;
  g_autoptr(CwRecord) index = cw_job_track_index(rate);
  g_autofree char *text = json ? cw_record_to_indented_json(index) : cw_job_track_list(index);
  return cw_print(text, error);
}

/* A line a lead, for people. */
static char *tell_survey(CwRecord *survey)
{
  GString *text = g_string_new(NULL);
  CwList *leads = cw_record_get_children(survey, "leads");
  static const char *const sides[] = {"left", "right", "both"}, *const ends[] = {"front", "rear", "unfaded"},
                           *const bands[] = {"high", "mid", "low", "bass", "full"};

  for (guint i = 0; i < cw_list_get_length(leads); i++) {
    CwRecord *l = cw_list_get(leads, i);
    int side = cw_record_get_choice(l, "side"), end = cw_record_get_choice(l, "end"),
        band = cw_record_get_choice(l, "band"), polarity = cw_record_get_choice(l, "polarity");
    g_string_append_printf(text, "lead %2d  %-6s %-8s %-5s %-9s %9.3f ms  %6.1f dBV%s\n",
                           (int)cw_record_get_integer(l, "lead"), side < 0 ? "?" : sides[side],
                           end < 0 ? "?" : ends[end], band < 0 ? "?" : bands[band],
                           polarity < 0 ? "?"
                           : polarity   ? "inverted"
                                        : "normal",
                           cw_record_get_number(l, "delay_ms"), cw_record_get_number(l, "level_dbv"),
                           cw_record_get_boolean(l, "all_pass") ? "  all-pass" : "");
  }
  return g_string_free(text, FALSE);
}

static gboolean run_survey(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);

  if (!project)
    return FALSE;
  g_autoptr(CwSurveyWork) work = cw_survey_work_read(cw_project_get_vehicle(project), arguments[1], error);
  if (!work || !cw_survey_work_run(work, NULL, NULL, NULL, error))
    return FALSE;
  cw_survey_work_store(work, project);
  if (!cw_project_commit(project, "Survey of the factory signal", error))
    return FALSE;
  CwRecord *survey = cw_survey_work_get_survey(work);
  const char *const *refused = cw_record_get_texts(survey, "refused");
  for (guint i = 0; refused && refused[i]; i++)
    fprintf(stderr, "not used: %s\n", refused[i]);
  g_autofree char *text = json ? cw_record_to_json(survey, NULL) : tell_survey(survey);
  return cw_print(text, error);
}

const CwVerb cw_verbs_survey[] = {
    {"tracks", "DIR", "test tracks for the factory radio, and what to do with them", 1, 1, tracks_entries,
     run_tracks},
    {"survey", "CAR TAKES.json", "analyses recorded leads, stores and prints the result", 2, 2, NULL,
     run_survey},
    {0},
};
