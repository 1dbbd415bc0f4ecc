/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "job/output_file.h"
#include "job/takes/curves.h"

static int output, smoothing;
static double window_ms;
static char *position, *curve_word, *out_path;

static const GOptionEntry curve_entries[] = {
    {"output", 0, 0, G_OPTION_ARG_INT, &output, "The output", "N"},
    {"position", 0, 0, G_OPTION_ARG_STRING, &position, "The position, or for the spread the seat", "SEAT/K"},
    {"curve", 0, 0, G_OPTION_ARG_STRING, &curve_word,
     "response, phase, group-delay, excess-phase, impulse, step, first-sound, decay or spread", "WHICH"},
    {"smoothing", 0, 0, G_OPTION_ARG_INT, &smoothing, "1/N octave, 1 to 48", "N"},
    {"window", 0, 0, G_OPTION_ARG_DOUBLE, &window_ms, "Only so much of the response after its arrival", "MS"},
    {"out", 0, 0, G_OPTION_ARG_FILENAME, &out_path, "Where to write it, as CSV; else to standard output",
     "FILE.csv"},
    {0},
};

static gboolean run_curve(char **arguments, gboolean json, GError **error)
{
  int kind = 0;

  while (cw_curve_words[kind] && g_strcmp0(curve_word ? curve_word : "response", cw_curve_words[kind]) != 0)
    kind++;
  if (!cw_curve_words[kind] || output <= 0 || !position) {
    g_autofree char *list = g_strjoinv(", ", (char **)cw_curve_words);
    g_set_error(error, CW_USAGE_ERROR, 0, "--output, --position and a --curve of these are needed: %s", list);
    return FALSE;
  }
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);
  CwCurveOptions options = {smoothing, 1e-3 * window_ms};
  g_autoptr(CwCurve) curve =
      project ? cw_job_curve(project, output, position, (CwCurveKind)kind, &options, error) : NULL;
  if (project && !curve)
    g_prefix_error(error, "%s: ", arguments[0]);
  if (!curve)
    return FALSE;
  g_autofree char *text = cw_curve_to_csv(curve);
  return out_path ? cw_job_write_file(out_path, text, -1, cw_verb_replace(), error) : cw_print(text, error);
}

const CwVerb cw_verbs_curve[] = {
    {"curve", "CAR --output N --position SEAT/K --curve WHICH", "a curve worked out from a take, as CSV", 1,
     1, curve_entries, run_curve},
    {0},
};
