/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "job/map/map_check.h"
#include "job/takes/feeds.h"
#include "vehicle/json/document.h"

static int output;
static char *feed_path, *heard_path, *place_word, *seat;

static const GOptionEntry map_entries[] = {
    {"output", 0, 0, G_OPTION_ARG_INT, &output, "The output to prove", "N"},
    {"feed", 0, 0, G_OPTION_ARG_FILENAME, &feed_path, "Write the short feed that proves the output",
     "FEED.wav"},
    {"heard", 0, 0, G_OPTION_ARG_FILENAME, &heard_path,
     "A recording of that feed, the feed itself in channel 2", "REC.wav"},
    {"place", 0, 0, G_OPTION_ARG_STRING, &place_word, "Where the microphone stood: left or right of the head",
     "SIDE"},
    {"seat", 0, 0, G_OPTION_ARG_STRING, &seat, "At which seat; the first unless told", "NAME"},
    {0},
};

static gboolean write_feed(CwRecord *vehicle, GError **error)
{
  CwSweepFeed feed;
  double rate_hz;

  if (!cw_job_proving_feed(vehicle, output, &feed, &rate_hz, error))
    return FALSE;
  g_autoptr(CwRecording) recording = cw_job_render_feed(&feed, rate_hz);
  return cw_recording_write(recording, feed_path, 24, cw_verb_replace(), error);
}

static gboolean hear(CwProject *project, GError **error)
{
  gboolean right = place_word && g_str_equal(place_word, "right");

  if (!place_word || (!right && !g_str_equal(place_word, "left"))) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "--place left or --place right is needed");
    return FALSE;
  }
  g_autoptr(CwRecording) recording = cw_recording_read(heard_path, error);
  if (!recording)
    return FALSE;
  g_autoptr(CwProvingOutcome) outcome = cw_job_prove_hear(
      cw_project_get_vehicle(project), output, right ? CW_PROVING_RIGHT : CW_PROVING_LEFT, recording, error);
  if (!outcome) {
    g_prefix_error(error, "%s: ", heard_path);
    return FALSE;
  }
  cw_job_prove_store(project, outcome);
  return cw_project_commit(project, "Hear an output", error);
}

/* What the map holds, a JSON list. */
static gboolean print_map(CwRecord *vehicle, GError **error)
{
  CwList *proofs = cw_vehicle_get_map_proofs(vehicle);
  g_autoptr(GString) text = g_string_new("[");

  for (guint i = 0; i < cw_list_get_length(proofs); i++) {
    g_autofree char *one = cw_record_to_json(cw_list_get(proofs, i), NULL);
    g_string_append_printf(text, "%s%s", i ? "," : "", one);
  }
  g_string_append(text, "]\n");
  return cw_print(text->str, error);
}

static gboolean run_map(char **arguments, gboolean json, GError **error)
{
  if ((feed_path || heard_path) && output <= 0) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "--output is needed");
    return FALSE;
  }
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);
  if (!project)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  if (feed_path)
    return write_feed(vehicle, error);
  if (heard_path)
    return hear(project, error);
  if (!cw_job_prove_judge(project, seat ? seat : cw_vehicle_get_seats(vehicle)[0], error) ||
      !cw_project_commit(project, "Prove the channel map", error)) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  return json ? print_map(vehicle, error) : TRUE;
}

const CwVerb cw_verbs_map[] = {
    {"map", "CAR",
     "the proving run: which speaker stands on which output; its feeds, what was heard, the judgement", 1, 1,
     map_entries, run_map},
    {0},
};
