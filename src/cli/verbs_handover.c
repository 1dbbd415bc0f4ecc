/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "handover/table.h"

#include "job/handover/report.h"
#include "job/sheet/cautions.h"
#include "job/sheet/electrics.h"
#include "vehicle/json/json_write.h"
#include "vehicle/project/project.h"
#include <glib/gi18n-lib.h>

static void tell_amplifier(GString *text, const CwElectrics *electrics, guint amplifier)
{
  g_auto(GStrv) working = cw_electrics_working(electrics, amplifier);
  g_string_append_printf(text, "%s\n", electrics->amplifiers[amplifier].name);
  for (guint i = 0; working[i]; i++)
    g_string_append_printf(text, "  %s\n", working[i]);
  g_string_append_c(text, '\n');
}

static char *tell_electrics(const CwElectrics *electrics)
{
  GString *text = g_string_new(NULL);
  const char *const *cautions = cw_job_cautions(CW_STAGE_SUPPLY);
  for (guint i = 0; i < electrics->n_amplifiers; i++)
    tell_amplifier(text, electrics, i);
  g_string_append_printf(text, "Together: %.4g A", electrics->total_a);
  if (electrics->alternator_a > 0)
    g_string_append_printf(text, "; the alternator gives %.4g A", electrics->alternator_a);
  g_string_append(text, "\n\n");
  for (guint i = 0; cautions[i]; i++)
    g_string_append_printf(text, "! %s\n", _(cautions[i]));
  return g_string_free(text, FALSE);
}

static gboolean run_electrics(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);
  if (!project)
    return FALSE;
  g_autoptr(CwElectrics) electrics = cw_electrics_new(cw_project_get_vehicle(project));
  g_autofree char *text = json ? cw_electrics_to_json(electrics) : tell_electrics(electrics);
  return cw_print(text, error);
}

static char *out_path;

static const GOptionEntry report_entries[] = {
    {"out", 0, 0, G_OPTION_ARG_FILENAME, &out_path, "The PDF to write", "FILE.pdf"},
    {0},
};

static gboolean run_report(char **arguments, gboolean json, GError **error)
{
  if (!out_path) {
    g_set_error_literal(error, CW_USAGE_ERROR, 0, "--out is needed");
    return FALSE;
  }
  g_autoptr(CwProject) project = cw_project_open_read_only(arguments[0], error);
  if (!project || !cw_job_write_report(project, out_path, cw_verb_replace(), error))
    return FALSE;
  if (!json)
    return TRUE;
  g_autoptr(GString) text = g_string_new("{\"file\":");
  g_autofree char *valid = g_utf8_make_valid(out_path, -1),
                  *checksum = cw_table_checksum(cw_project_get_vehicle(project), NULL);
  cw_append_json_text(text, valid);
  g_string_append_printf(text, checksum ? ",\"table_sha256\":\"%s\"}\n" : ",\"table_sha256\":null}\n",
                         checksum);
  return cw_print(text->str, error);
}

const CwVerb cw_verbs_handover[] = {
    {"electrics", "CAR", "loads, currents, cable, fuse, target voltages", 1, 1, NULL, run_electrics},
    {"report", "CAR --out FILE.pdf", "the customer's report", 1, 1, report_entries, run_report},
    {0},
};
