/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"

#include "job/job_error.h"
#include "job/proof/proof.h"
#include "job/takes/feeds.h"
#include "vehicle/json/document.h"
#include "vehicle/kinds/kinds.h"
#include <math.h>

static char *feed_path, *side_word, *position;

static const GOptionEntry proof_entries[] = {
    {"feed", 0, 0, G_OPTION_ARG_FILENAME, &feed_path, "Write the feed to play into the processor's inputs",
     "FEED.wav"},
    {"input", 0, 0, G_OPTION_ARG_STRING, &side_word,
     "The input into which it was played: left, right or both", "SIDE"},
    {"position", 0, 0, G_OPTION_ARG_STRING, &position, "Where the microphone stood", "SEAT/K"},
    {0},
};

static gboolean write_feed(CwProject *project, GError **error)
{
  double rate_hz;
  CwSweepFeed feed = cw_job_proof_feed(cw_project_get_vehicle(project), &rate_hz);
  g_autoptr(CwRecording) recording = cw_job_render_feed(&feed, rate_hz);
  return cw_recording_write(recording, feed_path, 24, cw_verb_replace(), error);
}

static gboolean read_side(CwSum *side, GError **error)
{
  for (int i = 0; side_word && position && cw_proof_sides[i]; i++)
    if (g_str_equal(cw_proof_sides[i], side_word)) {
      *side = (CwSum)i;
      return TRUE;
    }
  g_set_error_literal(error, CW_USAGE_ERROR, 0,
                      "a recording needs --input left, right or both, and --position");
  return FALSE;
}

/* Analyses a recording and judges what has been measured so far. */
static gboolean add_recording(CwProject *project, CwSum side, const char *path, GError **error)
{
  g_autoptr(CwRecording) recording = cw_recording_read(path, error);
  g_autoptr(CwProofTake) take =
      recording ? cw_job_proof_add(project, side, position, recording, error) : NULL;
  if (!recording)
    return FALSE;
  if (!take) {
    g_prefix_error(error, "%s: ", path);
    return FALSE;
  }
  if (take->faults) {
    g_autofree char *reasons = g_strjoinv("; ", take->reasons);
    g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "%s: refused: %s", path, reasons);
    return FALSE;
  }
  if (!cw_job_judge_proof(project, error)) {
    g_prefix_error(error, "%s: ", cw_project_get_path(project));
    return FALSE;
  }
  return cw_project_commit(project, "Measure with the settings loaded", error);
}

static gboolean print_rows(CwRecord *vehicle, gboolean json, GError **error)
{
  CwList *rows = cw_vehicle_get_proof(vehicle);
  g_autoptr(GString) text = g_string_new(NULL);
  if (json)
    g_string_append_printf(text, "{\"current\":%s,\"proof\":[",
                           cw_job_proof_is_current(vehicle) ? "true" : "false");
  for (guint i = 0; i < cw_list_get_length(rows); i++) {
    CwRecord *row = cw_list_get(rows, i);
    if (json) {
      g_autofree char *one = cw_record_to_json(row, NULL);
      g_string_append_printf(text, "%s%s", i ? "," : "", one);
    } else {
      g_string_append_printf(text, "%-8s %s: %.2f dB on the mean, %+.2f dB near %.0f Hz\n",
                             cw_proof_row_get_agrees(row) ? "agrees" : "DIFFERS",
                             cw_proof_row_get_subject(row), cw_proof_row_get_rms_db(row),
                             cw_proof_row_get_worst_db(row), cw_proof_row_get_worst_hz(row));
    }
  }
  g_string_append(text, json ? "]}\n" : "");
  return cw_print(text->str, error);
}

static gboolean run_proof(char **arguments, gboolean json, GError **error)
{
  CwSum side = CW_SUM_BOTH;
  if (arguments[1] && !read_side(&side, error))
    return FALSE;
  g_autoptr(CwProject) project =
      arguments[1] ? cw_project_open(arguments[0], error) : cw_project_open_read_only(arguments[0], error);
  if (!project || (feed_path && !write_feed(project, error)) ||
      (arguments[1] && !add_recording(project, side, arguments[1], error)))
    return FALSE;
  return feed_path && !json ? TRUE : print_rows(cw_project_get_vehicle(project), json, error);
}

const CwVerb cw_verbs_proof[] = {
    {"proof", "CAR [REC.wav --input SIDE --position SEAT/K]",
     "measures again with the settings loaded, and compares with the prediction", 1, 2, proof_entries,
     run_proof},
    {0},
};
