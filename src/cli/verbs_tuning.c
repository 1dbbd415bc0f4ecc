/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "handover/settings_text.h"
#include "handover/table.h"
#include "job/input_file.h"
#include "job/output_file.h"
#include "job/tuning/loudness_limits.h"
#include "job/tuning/refit.h"
#include "job/tuning/tune.h"
#include "vehicle/json/document.h"
#include "vehicle/json/json_write.h"
#include "vehicle/project/project.h"
#include <math.h>

static char *profile_path, *seat, *seats, *out_path, *format, *fixed_word, *a_sign;
static char *only, *outputs, *hold, *take;
static int filters;
static gboolean keep_filters;
static double rate_hz;

static const GOptionEntry tune_entries[] = {
    {"seat", 0, 0, G_OPTION_ARG_STRING, &seat, "The seat to tune for; the first of the sheet unless told",
     "NAME"},
    {"seats", 0, 0, G_OPTION_ARG_STRING, &seats, "all: every seat of the sheet", "all"},
    {"filters", 0, 0, G_OPTION_ARG_INT, &filters, "At most N EQ filters per output", "N"},
    {"only", 0, 0, G_OPTION_ARG_STRING, &only,
     "Change only these of the present tune: levels, delays, polarity, crossovers, filters", "LIST"},
    {"outputs", 0, 0, G_OPTION_ARG_STRING, &outputs, "Change only these outputs, as in 1,3", "LIST"},
    {"hold", 0, 0, G_OPTION_ARG_STRING, &hold,
     "Keep parts of outputs as they are, as in 2:crossover,5:filters; gain, delay, polarity, high-pass, "
     "low-pass, all",
     "LIST"},
    {"keep-filters", 0, 0, G_OPTION_ARG_NONE, &keep_filters, "Keep all present filters, and add to them",
     NULL},
    {"take", 0, 0, G_OPTION_ARG_STRING, &take,
     "Which of the three proposals to store: closest, simplest or steadiest (default closest)", "NAME"},
    {0},
};

static gboolean read_wish(CwTuneWish *wish, GError **error)
{
  if (filters < 0 || filters > 32) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--filters %d: a number from 1 to 32 was expected", filters);
    return FALSE;
  }
  wish->filters = (guint)filters;
  wish->keep_filters = keep_filters;
  if ((only && !cw_tune_wish_read_only(wish, only, error)) ||
      (outputs && !cw_tune_wish_read_outputs(wish, outputs, error)) ||
      (hold && !cw_tune_wish_read_holds(wish, hold, error))) {
    g_autofree char *why = g_strdup((*error)->message);
    g_clear_error(error);
    g_set_error_literal(error, CW_USAGE_ERROR, 0, why);
    return FALSE;
  }
  if (take && cw_tune_choice_of_name(take) == CW_PROPOSAL_CHOICES) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--take %s: closest, simplest or steadiest was expected", take);
    return FALSE;
  }
  return TRUE;
}

static gboolean propose(CwProject *project, const CwTuneWish *wish, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  const char *wanted = seats ? NULL : seat ? seat : cw_vehicle_get_seats(vehicle)[0];
  g_autoptr(CwTuneWork) work = cw_tune_work_new(project, wanted, wish, error);

  if (!work || !cw_tune_work_run(work, NULL, NULL, NULL, error))
    return FALSE;
  cw_tune_work_store(work, project, take ? cw_tune_choice_of_name(take) : CW_PROPOSAL_CLOSEST);
  return cw_project_commit(project, "Propose a tune", error);
}

static gboolean run_tune(char **arguments, gboolean json, GError **error)
{
  CwTuneWish wish = {0};

  if (seats && !g_str_equal(seats, "all")) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--seats %s: only all can be said; name one seat by --seat", seats);
    return FALSE;
  }
  if (seat && seats) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "--seat and --seats: only one of the two can be said");
    return FALSE;
  }
  g_autoptr(CwProject) project = read_wish(&wish, error) ? cw_project_open(arguments[0], error) : NULL;
  gboolean done = project && propose(project, &wish, error);
  cw_tune_wish_clear(&wish);
  if (!done) {
    if (project)
      g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  CwRecord *vehicle = cw_project_get_vehicle(project);
  if (!json)
    return TRUE;
  g_autofree char *text = cw_record_to_json(cw_vehicle_get_tune(vehicle), NULL);
  return cw_print(text, error);
}

static const GOptionEntry table_entries[] = {
    {"out", 0, 0, G_OPTION_ARG_FILENAME, &out_path, "The file to write", "FILE"},
    {"format", 0, 0, G_OPTION_ARG_STRING, &format,
     "json, csv, tsv, c, or text to type in by hand; json unless told", "FORM"},
    {"rate", 0, 0, G_OPTION_ARG_DOUBLE, &rate_hz, "Sample rate; the processor's unless told", "HZ"},
    {"fixed", 0, 0, G_OPTION_ARG_STRING, &fixed_word, "Adds fixed-point codes, 1.15 to 8.24", "M.N"},
    {"a-sign", 0, 0, G_OPTION_ARG_STRING, &a_sign, "plus or minus; minus unless told", "SIGN"},
    {0},
};

/* As text to type in by hand, or as coefficients. */
static char *write_table(CwRecord *vehicle, const CwFixedFormat *fixed, GError **error)
{
  if (format && g_str_equal(format, "text"))
    return cw_settings_write(vehicle, error);
  g_autoptr(CwTable) table = cw_table_new(vehicle, rate_hz, error);
  return table ? cw_table_write(table, format ? format : "json", a_sign && g_str_equal(a_sign, "plus"), fixed,
                                error)
               : NULL;
}

/* The form of the table and what goes with it. */
static gboolean check_form(GError **error)
{
  static const char *const forms[] = {"json", "csv", "tsv", "c", "text", NULL};

  if (format && !g_strv_contains(forms, format)) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--format %s: json, csv, tsv, c or text was expected", format);
    return FALSE;
  }
  if (a_sign && !g_str_equal(a_sign, "plus") && !g_str_equal(a_sign, "minus")) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--a-sign %s: plus or minus was expected", a_sign);
    return FALSE;
  }
  if (g_strcmp0(format, "text") == 0 && (rate_hz != 0 || fixed_word || a_sign)) {
    g_set_error_literal(
        error, CW_USAGE_ERROR, 0,
        "--format text holds filters by frequency, gain and Q and no coefficients: --rate, --fixed and "
        "--a-sign go with the other forms");
    return FALSE;
  }
  return TRUE;
}

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
  if (!check_form(error))
    return FALSE;
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);
  if (!project)
    return FALSE;
  g_autofree char *text = write_table(cw_project_get_vehicle(project), fixed_word ? &fixed : NULL, error);
  if (!text) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  if (!cw_job_write_file(out_path, text, -1, cw_verb_replace(), error))
    return FALSE;
  return json ? cw_print(text, error) : TRUE;
}

static const GOptionEntry refit_entries[] = {
    {"processor", 0, 0, G_OPTION_ARG_FILENAME, &profile_path,
     "The other processor: its record, or an intake sheet that holds one", "PROFILE.json"},
    {"out", 0, 0, G_OPTION_ARG_FILENAME, &out_path, "The project file to write", "OTHER.cabin"},
    {0},
};

/* A cost to four digits: what is beyond has no meaning. */
static void append_cost(GString *json, const char *key, double value)
{
  char text[G_ASCII_DTOSTR_BUF_SIZE];
  cw_append_json_member(json, key, g_ascii_strtod(g_ascii_formatd(text, sizeof text, "%.4g", value), NULL));
}

static void append_inputs(GString *json, const CwInputsCost *inputs)
{
  cw_append_json_key(json, "inputs");
  g_string_append_c(json, '{');
  append_cost(json, "before_db", inputs->before_db);
  append_cost(json, "before_low_hz", inputs->before_low_hz);
  append_cost(json, "before_high_hz", inputs->before_high_hz);
  append_cost(json, "after_db", inputs->after_db);
  append_cost(json, "after_low_hz", inputs->after_low_hz);
  append_cost(json, "after_high_hz", inputs->after_high_hz);
  cw_append_json_member(json, "filters_before", inputs->filters_before);
  cw_append_json_member(json, "filters_after", inputs->filters_after);
  cw_append_json_member(json, "kept_by_hand", inputs->kept_by_hand);
  cw_append_json_member(json, "redone", inputs->redone);
  g_string_append_c(json, '}');
}

static gboolean tell_cost(const CwRefitCost *cost, const char *path, gboolean json, GError **error)
{
  g_autoptr(GString) text = g_string_new(NULL);

  if (json) {
    g_string_append_c(text, '{');
    append_cost(text, "moved_side_db", cost->moved_side_db);
    append_cost(text, "moved_both_db", cost->moved_both_db);
    append_cost(text, "before_side_db", cost->before_side_db);
    append_cost(text, "after_side_db", cost->after_side_db);
    cw_append_json_member(text, "filters_before", cost->filters_before);
    cw_append_json_member(text, "filters_after", cost->filters_after);
    append_inputs(text, &cost->inputs);
    g_string_append_c(text, '}');
  } else {
    g_string_append_printf(text,
                           "%s: each side moves by %.2f dB, both together by %.2f dB; from the target it was "
                           "%.2f dB and is %.2f dB; %u filters, there were %u\n",
                           path, cost->moved_side_db, cost->moved_both_db, cost->before_side_db,
                           cost->after_side_db, cost->filters_after, cost->filters_before);
    if (!isnan(cost->inputs.before_db))
      g_string_append_printf(
          text,
          "inputs: flat within %.2f dB from %.0f to %.0f Hz, it was %.2f dB from %.0f to %.0f "
          "Hz; %u filters, there were %u; set by hand: %u kept, %u worked out anew\n",
          cost->inputs.after_db, cost->inputs.after_low_hz, cost->inputs.after_high_hz,
          cost->inputs.before_db, cost->inputs.before_low_hz, cost->inputs.before_high_hz,
          cost->inputs.filters_after, cost->inputs.filters_before, cost->inputs.kept_by_hand,
          cost->inputs.redone);
  }
  return cw_print(text->str, error);
}

static gboolean run_refit(char **arguments, gboolean json, GError **error)
{
  g_autofree char *text = NULL;
  gsize length;
  CwRefitCost cost;

  if (!profile_path || !out_path) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "--processor and --out are needed");
    return FALSE;
  }
  if (!(text = cw_job_read_file(profile_path, CW_DOCUMENT_MOST_BYTES, &length, error)))
    return FALSE;
  g_autoptr(CwRecord) processor = cw_job_read_processor(text, length, error);
  if (!processor) {
    g_prefix_error(error, "%s: ", profile_path);
    return FALSE;
  }
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);
  if (!project)
    return FALSE;
  if (!cw_job_refit(project, processor, out_path, &cost, error)) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  return tell_cost(&cost, out_path, json, error);
}

static const GOptionEntry headroom_entries[] = {
    {"seat", 0, 0, G_OPTION_ARG_STRING, &seat, "The seat; the first of the sheet by default", "NAME"},
    {0},
};

static gboolean run_headroom(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);
  CwHeadroom headroom;

  if (!project)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  if (!cw_job_headroom(project, seat ? seat : cw_vehicle_get_seats(vehicle)[0], &headroom, error)) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  g_autofree char *text =
      json ? cw_job_headroom_to_json(vehicle, &headroom) : cw_job_say_headroom(vehicle, &headroom);
  return cw_print(text, error);
}

const CwVerb cw_verbs_tuning[] = {
    {"tune", "CAR [--seat NAME|--seats all]", "proposes and stores a tune", 1, 1, tune_entries, run_tune},
    {"headroom", "CAR [--seat NAME]", "how loud the car plays, and what gives out first", 1, 1,
     headroom_entries, run_headroom},
    {"refit", "CAR --processor PROFILE.json --out OTHER.cabin",
     "the same tune for another processor, with what it costs", 1, 1, refit_entries, run_refit},
    {"table", "CAR --out FILE", "the coefficient table", 1, 1, table_entries, run_table},
    {0},
};
