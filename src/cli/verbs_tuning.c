/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "handover/table.h"
#include "job/output_file.h"
#include "job/tune.h"
#include "vehicle/document.h"
#include "vehicle/project.h"

static char *seat, *seats, *out_path, *format, *fixed_word, *a_sign;
static double rate_hz;

static const GOptionEntry tune_entries[] = {
    {"seat", 0, 0, G_OPTION_ARG_STRING, &seat, "The seat to tune for; the first of the sheet unless told", "NAME"},
    {"seats", 0, 0, G_OPTION_ARG_STRING, &seats, "all: every seat of the sheet", "all"},
    {0},
};

static gboolean run_tune(char **arguments, gboolean json, GError **error)
{
  if (seats && !g_str_equal(seats, "all")) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--seats %s: only all can be said; name one seat by --seat", seats);
    return FALSE;
  }
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);
  if (!project)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwTuneWork) work = cw_tune_work_new(project, seats ? NULL : seat ? seat : cw_record_get_texts(vehicle, "seats")[0], error);
  if (!work || !cw_tune_work_run(work, NULL, NULL, NULL, error)) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  cw_tune_work_store(work, project);
  if (!cw_project_commit(project, "Propose a tune", error))
    return FALSE;
  if (!json)
    return TRUE;
  g_autofree char *text = cw_record_to_json(cw_record_get_child(vehicle, "tune"), NULL);
  return cw_print(text, error);
}

static const GOptionEntry table_entries[] = {
    {"out", 0, 0, G_OPTION_ARG_FILENAME, &out_path, "The file to write", "FILE"},
    {"format", 0, 0, G_OPTION_ARG_STRING, &format, "json, csv, tsv or c; json unless told", "FORM"},
    {"rate", 0, 0, G_OPTION_ARG_DOUBLE, &rate_hz, "Sample rate; the processor's unless told", "HZ"},
    {"fixed", 0, 0, G_OPTION_ARG_STRING, &fixed_word, "Adds fixed-point codes, 1.15 to 8.24", "M.N"},
    {"a-sign", 0, 0, G_OPTION_ARG_STRING, &a_sign, "plus or minus; minus unless told", "SIGN"},
    {0},
};

static gboolean run_table(char **arguments, gboolean json, GError **error)
{
  CwFixedFormat fixed = {0};

  if (!out_path) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "--out is needed");
    return FALSE;
  }
  if (fixed_word && !cw_fixed_format_parse(fixed_word, &fixed)) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--fixed %s: a format from 1.15 to 8.24 was expected", fixed_word);
    return FALSE;
  }
  if (a_sign && !g_str_equal(a_sign, "plus") && !g_str_equal(a_sign, "minus")) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--a-sign %s: plus or minus was expected", a_sign);
    return FALSE;
  }
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);
  if (!project)
    return FALSE;
  g_autoptr(CwTable) table = cw_table_new(cw_project_get_vehicle(project), rate_hz, error);
  g_autofree char *text = table ? cw_table_write(table, format ? format : "json", a_sign && g_str_equal(a_sign, "plus"), fixed_word ? &fixed : NULL, error) : NULL;
  if (!text) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  if (!cw_job_write_file(out_path, text, -1, error))
    return FALSE;
  return json ? cw_print(text, error) : TRUE;
}

const CwVerb cw_verbs_tuning[] = {
    {"tune", "CAR [--seat NAME|--seats all]", "proposes and stores a tune", 1, 1, tune_entries, run_tune},
    {"table", "CAR --out FILE", "the coefficient table", 1, 1, table_entries, run_table},
    {0},
};
