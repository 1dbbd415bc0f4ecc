/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "job/check.h"
#include "job/findings/review.h"
#include "job/input_file.h"
#include "vehicle/json/document.h"
#include "vehicle/json/json_write.h"
#include "vehicle/project/project.h"

static gboolean run_new(char **arguments, gboolean json, GError **error)
{
  g_autofree char *text = NULL;
  gsize length;

  if (!(text = cw_job_read_file(arguments[1], CW_DOCUMENT_MOST_BYTES, &length, error)))
    return FALSE;
  g_autoptr(CwRecord) vehicle = cw_record_from_json(cw_vehicle_get_type(), text, (gssize)length, error);
  if (!vehicle) {
    g_prefix_error(error, "%s: ", arguments[1]);
    return FALSE;
  }
  cw_job_review(vehicle);
  g_autoptr(CwProject) project = cw_project_create(arguments[0], vehicle, error);
  if (!project)
    return FALSE;
  if (!json)
    return TRUE;
  g_autofree char *document = cw_record_to_indented_json(vehicle);
  return cw_print(document, error);
}

/* The stages with state and what is missing, a line each. */
static char *tell_stages(CwRecord *vehicle)
{
  GString *text = g_string_new(NULL);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);

  g_string_append_printf(text, "%s  %s\n\n", cw_vehicle_get_reference(vehicle),
                         cw_vehicle_get_description(vehicle));
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    g_string_append_printf(text, "output %2d  %s\n", (int)cw_speaker_get_output(speaker),
                           cw_speaker_get_name(speaker));
  }
  g_string_append_c(text, '\n');
  for (int stage = 0; stage < CW_ROUTE_STAGE_COUNT; stage++) {
    static const char *const states[] = {"untouched", "begun", "something to settle", "done"};
    CwRecord *record = cw_vehicle_find_stage(vehicle, stage);
    g_string_append_printf(text, "%d %-16s %-20s %s\n", stage + 1, cw_stages[stage].label,
                           states[cw_stage_get_state(record)], cw_stage_get_missing(record));
  }
  return g_string_free(text, FALSE);
}

static gboolean run_show(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);

  if (!project)
    return FALSE;
  g_autofree char *text = json ? cw_record_to_indented_json(cw_project_get_vehicle(project))
                               : tell_stages(cw_project_get_vehicle(project));
  return cw_print(text, error);
}

static gboolean run_findings(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);
  g_autoptr(GString) text = g_string_new(json ? "{\"findings\":[" : NULL);

  if (!project)
    return FALSE;
  CwList *findings = cw_vehicle_get_findings(cw_project_get_vehicle(project));
  for (guint i = 0; i < cw_list_get_length(findings); i++) {
    CwRecord *finding = cw_list_get(findings, i);
    if (json) {
      g_autofree char *one = cw_record_to_json(finding, NULL);
      g_string_append_printf(text, "%s%s", i ? "," : "", one);
    } else {
      static const char *const severities[] = {"STOP", "ATTEND", "NOTE"};
      g_string_append_printf(text, "%-6s %s\n       %s\n       %s\n",
                             severities[cw_finding_get_severity(finding)], cw_finding_get_text(finding),
                             cw_finding_get_evidence(finding), cw_finding_get_advice(finding));
    }
  }
  g_string_append(text, json ? "]}\n" : "");
  return cw_print(text->len ? text->str : "nothing found\n", error);
}

static gboolean run_check(char **arguments, gboolean json, GError **error)
{
  g_autoptr(GPtrArray) wrong = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GString) text = g_string_new(NULL);

  cw_job_check_file(arguments[0], wrong);
  if (json)
    g_string_append_printf(text, "{\"sound\":%s,\"wrong\":[", wrong->len ? "false" : "true");
  for (guint i = 0; i < wrong->len; i++) {
    if (!json) {
      g_string_append_printf(text, "%s\n", (char *)g_ptr_array_index(wrong, i));
      continue;
    }
    g_autofree char *valid = g_utf8_make_valid(g_ptr_array_index(wrong, i), -1);
    g_string_append(text, i ? "," : "");
    cw_append_json_text(text, valid);
  }
  g_string_append(text, json ? "]}\n" : wrong->len ? "" : "nothing wrong\n");
  if (!cw_print(text->str, error))
    return FALSE;
  if (wrong->len == 0)
    return TRUE;
  g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_FILE, "%s", (char *)g_ptr_array_index(wrong, 0));
  return FALSE;
}

const CwVerb cw_verbs_vehicle[] = {
    {"new", "CAR INTAKE.json", "a project file from an intake sheet", 2, 2, NULL, run_new},
    {"show", "CAR", "the vehicle's sheet and the state of every stage", 1, 1, NULL, run_show},
    {"findings", "CAR", "every finding, with evidence and advice", 1, 1, NULL, run_findings},
    {"check", "FILE", "verifies a project file or a table; repairs nothing", 1, 1, NULL, run_check},
    {0},
};
