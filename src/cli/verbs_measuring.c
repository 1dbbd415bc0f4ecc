/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "job/takes/arrivals.h"
#include "job/takes/feeds.h"
#include "job/takes/positions.h"
#include "job/takes/takes.h"
#include "vehicle/json/document.h"
#include <json-glib/json-glib.h>
#include <math.h>

static int output, marker, purpose, repeats = 1;
static double level_dbfs = CW_FEED_LEVEL_DBFS;
static char *out_path, *position, *timing = NULL, *purpose_word = NULL;

static const GOptionEntry sweep_entries[] = {
    {"output", 0, 0, G_OPTION_ARG_INT, &output, "The output to measure", "N"},
    {"marker", 0, 0, G_OPTION_ARG_INT, &marker, "The output that plays markers, in a second channel", "M"},
    {"repeats", 0, 0, G_OPTION_ARG_INT, &repeats, "Sweep so many times and analyse the mean, 1 to 8", "N"},
    {"level", 0, 0, G_OPTION_ARG_DOUBLE, &level_dbfs, "Peak level, -12 unless told", "DBFS"},
    {"out", 0, 0, G_OPTION_ARG_FILENAME, &out_path, "The feed to write", "FEED.wav"},
    {0},
};

static gboolean need(gboolean given, const char *option, GError **error)
{
  if (!given)
    g_set_error(error, CW_USAGE_ERROR, 0, "--%s is needed", option);
  return given;
}

static gboolean run_sweep(char **arguments, gboolean json, GError **error)
{
  if (!need(output > 0, "output", error) || !need(out_path != NULL, "out", error))
    return FALSE;
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);
  if (!project)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwSweepFeed feed;
  double rate_hz;
  gboolean planned =
      cw_job_plan_repeated_feed(vehicle, output, marker, level_dbfs, (guint)MAX(repeats, 0), error);
  if (!planned || !cw_job_read_feed(vehicle, output, marker > 0, &feed, &rate_hz, error)) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  g_autoptr(CwRecording) recording = cw_job_render_feed(&feed, rate_hz);
  g_autofree char *what = g_strdup_printf("Make the feed of output %d", output);
  if (!cw_recording_write(recording, out_path, 24, cw_verb_replace(), error) ||
      !cw_project_commit(project, what, error))
    return FALSE;
  g_autofree char *record = cw_record_to_json(
      cw_list_find_integer_at(cw_vehicle_get_feeds(vehicle), CW_FEED_FIELD_OUTPUT, output), NULL);
  return json ? cw_print(record, error) : TRUE;
}

static const GOptionEntry take_entries[] = {
    {"output", 0, 0, G_OPTION_ARG_INT, &output, "The output that was measured", "N"},
    {"position", 0, 0, G_OPTION_ARG_STRING, &position, "Where the microphone stood", "SEAT/K"},
    {"timing", 0, 0, G_OPTION_ARG_STRING, &timing, "loopback (the feed in channel 2), marker or none", "HOW"},
    {"purpose", 0, 0, G_OPTION_ARG_STRING, &purpose_word, "tuning (unless told), proof or check-up", "WHY"},
    {0},
};

/* The index of a word among the choices of a field of a take, or a usage error that lists them. */
static gboolean choose(const char *word, CwFieldId id, const char *option, int *index, GError **error)
{
  g_autoptr(CwRecord) take = cw_record_new(cw_take_get_type());
  const CwField *field = cw_record_get_field_at(take, id);
  if ((*index = cw_field_find_choice(field, word)) >= 0)
    return TRUE;
  g_autofree char *list = cw_field_list_choices(field);
  g_set_error(error, CW_USAGE_ERROR, 0, "--%s %s: expected one of %s", option, word, list);
  return FALSE;
}

/* Without --timing: by loopback where there is a second channel, by marker where the feed has one. */
static int guess_timing(CwRecord *vehicle, const CwRecording *recording)
{
  CwRecord *feed = cw_list_find_integer_at(cw_vehicle_get_feeds(vehicle), CW_FEED_FIELD_OUTPUT, output);

  if (recording->channels >= 2)
    return CW_TIMING_LOOPBACK;
  return feed && cw_feed_get_marker_output(feed) != CW_NO_INTEGER ? CW_TIMING_MARKER : CW_TIMING_NONE;
}

static gboolean run_take(char **arguments, gboolean json, GError **error)
{
  int how = -1;

  if (!need(output > 0, "output", error) || !need(position != NULL, "position", error) ||
      (timing && !choose(timing, CW_TAKE_FIELD_TIMING, "timing", &how, error)) ||
      (purpose_word && !choose(purpose_word, CW_TAKE_FIELD_PURPOSE, "purpose", &purpose, error)))
    return FALSE;
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);
  if (!project)
    return FALSE;
  g_autoptr(CwRecording) recording = cw_recording_read(arguments[1], error);
  if (!recording)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwTakeOutcome) outcome = cw_job_analyse_take(
      vehicle, output, position, how < 0 ? guess_timing(vehicle, recording) : how, purpose, recording, error);
  if (!outcome) {
    g_prefix_error(error, "%s: ", arguments[1]);
    return FALSE;
  }
  CwRecord *take = cw_job_store_take(project, outcome);
  g_autofree char *what = g_strdup_printf("Take of output %d at %s", output, position);
  if (!cw_project_commit(project, what, error))
    return FALSE;
  if (json) {
    g_autofree char *text = cw_record_to_json(take, NULL);
    return cw_print(text, error);
  }
  if (cw_take_get_accepted(take))
    return TRUE;
  g_autofree char *reasons = g_strjoinv("; ", (char **)cw_take_get_reasons(take));
  g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "%s: refused: %s", arguments[1], reasons);
  return FALSE;
}

static double arrival_ms = NAN;
static int edge;
static gboolean by_sound;

static const GOptionEntry arrival_entries[] = {
    {"output", 0, 0, G_OPTION_ARG_INT, &output, "The output that was measured", "N"},
    {"position", 0, 0, G_OPTION_ARG_STRING, &position, "Where the microphone stood", "SEAT/K"},
    {"ms", 0, 0, G_OPTION_ARG_DOUBLE, &arrival_ms, "Set the arrival to this time", "MS"},
    {"edge", 0, 0, G_OPTION_ARG_INT, &edge, "Set it to the take's edge K, from 1", "K"},
    {"by-sound", 0, 0, G_OPTION_ARG_NONE, &by_sound, "Leave it to the takes again", NULL},
    {0},
};

/* The time of a take's edge by its number; NAN with error where it has none of that number. */
static double edge_ms(CwRecord *vehicle, GError **error)
{
  CwRecord *take = cw_job_find_take(vehicle, output, position, CW_PURPOSE_TUNING);
  const CwNumbers *edges = take ? cw_take_get_edges(take) : NULL;

  if (edges && edge >= 1 && (guint)edge <= edges->n_rows)
    return cw_numbers_at(edges, (guint)edge - 1, 0);
  cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "edge %d: the take has %u edges", edge,
                edges ? edges->n_rows : 0);
  return NAN;
}

static void add_number(JsonObject *object, const char *key, double value, double steps)
{
  if (isnan(value))
    json_object_set_null_member(object, key);
  else
    json_object_set_double_member(object, key, rint(value * steps) / steps);
}

/* Every arrival beside what the sheet lets expect. */
static gboolean list_arrivals(CwRecord *vehicle, gboolean json, GError **error)
{
  g_autoptr(GArray) list = cw_job_list_arrivals(vehicle, position);
  g_autoptr(JsonNode) root = json_node_new(JSON_NODE_ARRAY);
  GString *text = g_string_new("output  position        sheet cm  expected ms  heard ms  doubt us  by\n");

  json_node_take_array(root, json_array_new());
  for (guint i = 0; i < list->len; i++) {
    const CwExpectedArrival *one = &g_array_index(list, CwExpectedArrival, i);
    if (output > 0 && cw_take_get_output(one->take) != output)
      continue;
    JsonObject *object = json_object_new();
    double heard_ms = cw_take_get_arrival_ms(one->take), doubt_us = cw_take_get_arrival_doubt_us(one->take);
    const char *by = cw_take_has_arrival_by(one->take) ? cw_take_get_arrival_by_word(one->take) : NULL;
    json_object_set_int_member(object, "output", cw_take_get_output(one->take));
    json_object_set_string_member(object, "position", cw_take_get_position(one->take));
    add_number(object, "sheet_cm", one->sheet_cm, 10);
    add_number(object, "expected_ms", one->expected_ms, 1e4);
    add_number(object, "arrival_ms", heard_ms, 1e4);
    add_number(object, "arrival_doubt_us", doubt_us, 1);
    json_object_set_string_member(object, "arrival_by", by);
    json_array_add_object_element(json_node_get_array(root), object);
    g_string_append_printf(text, "%6d  %-14s  %8.1f  %11.2f  %8.2f  %8.0f  %s\n",
                           (int)cw_take_get_output(one->take), cw_take_get_position(one->take), one->sheet_cm,
                           one->expected_ms, heard_ms, doubt_us, by ? by : "");
  }
  g_autofree char *words = g_string_free(text, FALSE),
                  *document = json ? json_to_string(root, TRUE) : g_steal_pointer(&words);
  return cw_print(document, error);
}

static gboolean run_arrival(char **arguments, gboolean json, GError **error)
{
  guint ways = !isnan(arrival_ms) + (edge != 0) + by_sound;

  if (ways == 0) {
    g_autoptr(CwProject) read = cw_project_open_read_only(arguments[0], error);
    return read && list_arrivals(cw_project_get_vehicle(read), json, error);
  }
  if (!need(output > 0, "output", error) || !need(position != NULL, "position", error))
    return FALSE;
  if (ways != 1) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "only one of --ms, --edge and --by-sound is possible");
    return FALSE;
  }
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);
  if (!project)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project), *take = NULL;
  double wanted = edge ? edge_ms(vehicle, error) : arrival_ms;
  if (!edge || !isnan(wanted))
    take = cw_job_set_arrival(vehicle, output, position, wanted, error);
  if (!take) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  g_autofree char *what = by_sound ? g_strdup_printf("Arrival of output %d at %s by sound", output, position)
                                   : g_strdup_printf("Arrival of output %d at %s by hand", output, position);
  if (!cw_project_commit(project, what, error))
    return FALSE;
  g_autofree char *text = cw_record_to_json(take, NULL);
  return json ? cw_print(text, error) : TRUE;
}

const CwVerb cw_verbs_measuring[] = {
    {"sweep", "CAR --output N --out FEED.wav", "the feed that measures an output", 1, 1, sweep_entries,
     run_sweep},
    {"take", "CAR REC.wav --output N --position SEAT/K", "analyses one recorded take and stores it", 2, 2,
     take_entries, run_take},
    {"arrival", "CAR [--output N --position SEAT/K --ms MS]",
     "arrivals beside the sheet's distances; sets one by hand", 1, 1, arrival_entries, run_arrival},
    {0},
};
