/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"

#include "job/handover/compare.h"
#include "vehicle/json/document.h"
#include "vehicle/json/json_write.h"
#include "vehicle/kinds/kinds.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static char *since;

static const GOptionEntry compare_entries[] = {
    {"since", 0, 0, G_OPTION_ARG_STRING, &since, "The restore point to compare with", "RESTORE-POINT"},
    {0},
};

static void put_change(GString *json, const CwChange *change)
{
  static const char *const kinds[] = {
      [CW_CHANGE_VALUE] = "value", [CW_CHANGE_ADDED] = "added", [CW_CHANGE_GONE] = "gone"};
  g_string_append_c(json, '{');
  cw_append_json_text_member(json, "path", change->path);
  cw_append_json_text_member(json, "what", change->what);
  cw_append_json_text_member(json, "kind", kinds[change->kind]);
  g_string_append_printf(json, ",\"before\":%s,\"after\":%s}", change->before ? change->before : "null",
                         change->after ? change->after : "null");
}

static void put_output(GString *json, const CwOutputChange *change)
{
  g_string_append_c(json, '{');
  cw_append_json_member(json, "output", (double)change->output);
  cw_append_json_text_member(json, "name", change->name);
  cw_append_json_member(json, "positions", change->positions);
  cw_append_json_truth_member(json, "silent", change->positions == 0);
  cw_append_json_truth_member(json, "swapped", change->swapped);
  cw_append_json_member(json, "level_db", change->level_db);
  cw_append_json_member(json, "band_hz", change->band_hz);
  cw_append_json_member(json, "band_db", change->band_db);
  cw_append_json_member(json, "arrival_ms", change->arrival_ms);
  cw_append_json_member(json, "rattle_hz", change->rattle_hz);
  g_string_append_c(json, '}');
}

static gboolean is_ours(CwRecord *finding)
{
  return g_str_equal(cw_finding_get_code(finding), "changed-since");
}

static char *compare_to_json(const CwComparison *comparison, CwRecord *vehicle)
{
  GString *json = g_string_new("{\"since\":");
  CwList *findings = cw_vehicle_get_findings(vehicle);
  gboolean first = TRUE;
  cw_append_json_text(json, comparison->since);
  g_string_append(json, ",\"changes\":[");
  for (guint i = 0; i < comparison->changes->len; i++) {
    g_string_append(json, i ? "," : "");
    put_change(json, g_ptr_array_index(comparison->changes, i));
  }
  g_string_append(json, "],\"outputs\":[");
  for (guint i = 0; i < comparison->n_outputs; i++) {
    g_string_append(json, i ? "," : "");
    put_output(json, &comparison->outputs[i]);
  }
  g_string_append_c(json, ']');
  cw_append_json_member(json, "common_db", comparison->common_db);
  cw_append_json_member(json, "common_ms", comparison->common_ms);
  g_string_append(json, ",\"findings\":[");
  for (guint i = 0; i < cw_list_get_length(findings); i++) {
    if (!is_ours(cw_list_get(findings, i)))
      continue;
    g_autofree char *one = cw_record_to_json(cw_list_get(findings, i), NULL);
    g_string_append_printf(json, "%s%s", first ? "" : ",", one);
    first = FALSE;
  }
  g_string_append(json, "]}\n");
  return g_string_free(json, FALSE);
}

static const char *or_nothing(const char *text)
{
  return *text ? text : "-";
}

static char *compare_to_words(const CwComparison *comparison, CwRecord *vehicle)
{
  GString *text = g_string_new(NULL);
  CwList *findings = cw_vehicle_get_findings(vehicle);
  for (guint i = 0; i < comparison->changes->len; i++) {
    const CwChange *change = g_ptr_array_index(comparison->changes, i);
    g_string_append_printf(text, "%s: %s -> %s\n", change->what, or_nothing(change->said_before),
                           or_nothing(change->said_after));
  }
  for (guint i = 0; i < comparison->n_outputs; i++) {
    const CwOutputChange *c = &comparison->outputs[i];
    if (c->positions)
      g_string_append_printf(text, "output %d, %s: level %+.1f dB, arrival %+.2f ms, polarity %s\n",
                             (int)c->output, c->name, c->level_db, c->arrival_ms,
                             c->swapped ? "swapped" : "as before");
    else
      g_string_append_printf(text, "output %d, %s: silent\n", (int)c->output, c->name);
  }
  for (guint i = 0; i < cw_list_get_length(findings); i++) {
    CwRecord *finding = cw_list_get(findings, i);
    if (is_ours(finding))
      g_string_append_printf(text, "! %s %s %s\n", cw_finding_get_text(finding),
                             cw_finding_get_evidence(finding), cw_finding_get_advice(finding));
  }
  if (!text->len)
    g_string_append_printf(text, "Nothing has changed since %s.\n", comparison->since);
  return g_string_free(text, FALSE);
}

static gboolean run_compare(char **arguments, gboolean json, GError **error)
{
  if (!since || !*since) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "--since is needed");
    return FALSE;
  }
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);
  g_autoptr(CwComparison) comparison = project ? cw_job_compare(project, since, error) : NULL;
  if (!comparison)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autofree char *what = g_strdup_printf(_("Compare with %s"), since);
  cw_comparison_find(comparison, vehicle);
  if (!cw_project_get_read_only_reason(project) && !cw_project_commit(project, what, error))
    return FALSE;
  g_autofree char *text = json ? compare_to_json(comparison, vehicle) : compare_to_words(comparison, vehicle);
  return cw_print(text, error);
}

static gboolean list_points(CwProject *project, gboolean json, GError **error)
{
  g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, error);
  g_autoptr(GString) text = g_string_new(json ? "{\"restore_points\":[" : NULL);
  if (!points)
    return FALSE;
  for (guint i = 0; i < points->len; i++) {
    const CwRestorePoint *point = g_ptr_array_index(points, i);
    if (!json) {
      g_string_append_printf(text, "%s  %s\n", point->made_utc, point->name);
      continue;
    }
    g_string_append(text, i ? ",{" : "{");
    cw_append_json_text_member(text, "name", point->name);
    cw_append_json_text_member(text, "made_utc", point->made_utc);
    g_string_append_c(text, '}');
  }
  g_string_append(text, json ? "]}\n" : "");
  return cw_print(text->str, error);
}

static gboolean run_keep(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project =
      arguments[1] ? cw_project_open(arguments[0], error) : cw_project_open_read_only(arguments[0], error);
  if (!project)
    return FALSE;
  if (arguments[1] && !*arguments[1]) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "a restore point must have a name");
    return FALSE;
  }
  if (arguments[1] && !cw_project_make_restore_point(project, arguments[1], error))
    return FALSE;
  return arguments[1] && !json ? TRUE : list_points(project, json, error);
}

static gboolean run_restore(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);
  if (!project || !cw_project_go_to_restore_point(project, arguments[1], error))
    return FALSE;
  return json ? list_points(project, json, error) : TRUE;
}

const CwVerb cw_verbs_compare[] = {
    {"keep", "CAR [NAME]", "keeps the vehicle as it stands under a name; lists the restore points", 1, 2,
     NULL, run_keep},
    {"restore", "CAR NAME", "brings the vehicle back to a restore point", 2, 2, NULL, run_restore},
    {"compare", "CAR --since RESTORE-POINT", "what changed since", 1, 1, compare_entries, run_compare},
    {0},
};
