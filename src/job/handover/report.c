/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/handover/report.h"

#include "handover/table.h"
#include "job/handover/report_private.h"
#include "job/output_file.h"
#include "job/sheet/cautions.h"
#include "job/sheet/electrics.h"
#include "job/tuning/predict.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static void report_speakers(CwPaper *paper, CwRecord *vehicle)
{
  const CwPaperColumn columns[] = {{_("Output"), 0.7, TRUE},    {_("Speaker"), 3, FALSE},
                                   {_("Way"), 1.2, FALSE},      {_("Side"), 1, FALSE},
                                   {_("Impedance"), 1.1, TRUE}, {_("Bears"), 1, TRUE}};
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    double rated_w = cw_speaker_get_rated_w(speaker);
    g_ptr_array_add(cells, g_strdup_printf("%d", (int)cw_speaker_get_output(speaker)));
    g_ptr_array_add(cells, g_strdup(cw_speaker_get_name(speaker)));
    g_ptr_array_add(cells, g_strdup(cw_speaker_say_way(speaker)));
    g_ptr_array_add(cells, g_strdup(cw_speaker_say_side(speaker)));
    g_ptr_array_add(cells, g_strdup_printf("%.3g Ω", cw_speaker_get_nominal_ohm(speaker)));
    g_ptr_array_add(cells, isnan(rated_w) ? NULL : g_strdup_printf("%.4g W", rated_w));
  }
  cw_paper_table(paper, columns, G_N_ELEMENTS(columns), (const char *const *)cells->pdata,
                 cw_list_get_length(speakers));
}

static void report_supply(CwPaper *paper, CwRecord *vehicle)
{
  const CwPaperColumn columns[] = {{_("Amplifier"), 3, FALSE},
                                   {_("Full power"), 1.2, TRUE},
                                   {_("Draws"), 1, TRUE},
                                   {_("Fuse"), 1, TRUE},
                                   {_("Cable, at least"), 1.4, TRUE}};
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  if (electrics->n_amplifiers == 0)
    return;
  for (guint i = 0; i < electrics->n_amplifiers; i++) {
    const CwAmplifierSupply *a = &electrics->amplifiers[i];
    g_ptr_array_add(cells, g_strdup(a->name));
    g_ptr_array_add(cells, g_strdup_printf("%.4g W", a->power_w));
    g_ptr_array_add(cells, g_strdup_printf("%.3g A", a->current_a));
    g_ptr_array_add(cells, isnan(a->cable.fuse_a) ? NULL : g_strdup_printf("%.4g A", a->cable.fuse_a));
    g_ptr_array_add(cells, isnan(a->cable.size_mm2) ? NULL : g_strdup_printf("%.4g mm²", a->cable.size_mm2));
  }
  cw_paper_table(paper, columns, G_N_ELEMENTS(columns), (const char *const *)cells->pdata,
                 electrics->n_amplifiers);
}

static void report_fitted(CwPaper *paper, const CwReport *report)
{
  CwRecord *processor = cw_vehicle_get_processor(report->vehicle);
  const char *name = cw_processor_get_name(processor);
  cw_paper_heading(paper, _("What was fitted"));
  report_speakers(paper, report->vehicle);
  report_supply(paper, report->vehicle);
  cw_paper_say(paper, cw_paper_text, _("Processor: %s, running at %.6g Hz."), *name ? name : _("not named"),
               cw_processor_get_sample_rate_hz(processor));
}

static void report_found(CwPaper *paper, const CwReport *report)
{
  CwList *findings = cw_vehicle_get_findings(report->vehicle);
  guint count = cw_list_get_length(findings);
  cw_paper_heading(paper, _("What was found"));
  if (count == 0)
    cw_paper_text(paper, _("Nothing that has to be mended."));
  for (guint i = 0; i < count; i++) {
    CwRecord *finding = cw_list_get(findings, i);
    g_autofree char *more =
        g_strdup_printf("%s %s", cw_finding_get_evidence(finding), cw_finding_get_advice(finding));
    cw_paper_item(paper, cw_finding_say_severity(finding), cw_finding_get_text(finding), more);
  }
}

static void report_later(CwPaper *paper, const CwReport *report)
{
  cw_paper_heading(paper, _("For later"));
  if (report->restore_point)
    cw_paper_say(paper, cw_paper_text,
                 _("These settings are kept as the restore point “%s”: the workshop can bring them back, or "
                   "compare the car with them, at any time."),
                 report->restore_point);
  else
    cw_paper_text(paper, _("No restore point has been kept yet."));
  if (!report->checksum)
    return;
  cw_paper_text(paper, _("The coefficient table in JSON form has this SHA-256 checksum. A table with the "
                         "same checksum holds exactly the settings described here:"));
  cw_paper_small(paper, report->checksum);
}

static void report_cautions(CwPaper *paper)
{
  const char *const *cautions = cw_job_cautions(CW_STAGE_HAND_OVER);
  cw_paper_heading(paper, _("Please mind"));
  for (guint i = 0; cautions[i]; i++)
    cw_paper_item(paper, "!", _(cautions[i]), NULL);
}

static void compose(CwPaper *paper, gpointer data)
{
  const CwReport *report = data;
  g_autoptr(GDateTime) made = g_date_time_new_from_unix_utc(report->made_unix);
  g_autofree char *date = g_date_time_format(made, "%Y-%m-%d");
  cw_paper_title(paper, _("Your sound system"));
  cw_paper_say(paper, cw_paper_text, "%s · %s · %s", cw_vehicle_get_reference(report->vehicle),
               cw_vehicle_get_description(report->vehicle), date);
  cw_report_tune(paper, report);
  cw_report_proof(paper, report);
  report_found(paper, report);
  report_fitted(paper, report);
  cw_report_signal(paper, report);
  report_later(paper, report);
  report_cautions(paper);
}

/* When the report is made: the build world's word for "now" wins, so that reports can be compared byte by
 * byte. */
static gint64 now_unix(void)
{
  const char *epoch = g_getenv("SOURCE_DATE_EPOCH");
  guint64 seconds;
  if (epoch && g_ascii_string_to_unsigned(epoch, 10, 0, 253402300799, &seconds, NULL))
    return (gint64)seconds;
  return g_get_real_time() / G_USEC_PER_SEC;
}

static gboolean has_tune(CwRecord *vehicle)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  return tune && cw_list_get_length(cw_tune_get_outputs(tune)) > 0;
}

static gboolean gather(CwProject *project, CwReport *report, GError **error)
{
  g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, error);
  if (!points)
    return FALSE;
  if (points->len) {
    const CwRestorePoint *latest = g_ptr_array_index(points, points->len - 1);
    report->restore_point = g_strdup(latest->name);
  }
  report->made_unix = now_unix();
  if (!has_tune(report->vehicle))
    return TRUE;
  report->tune = cw_vehicle_get_tune(report->vehicle);
  report->checksum = cw_table_checksum(report->vehicle, error);
  if (!report->checksum)
    return FALSE;
  const char *seat = cw_tune_get_seat(report->tune);
  report->prediction = cw_job_predict(project, g_str_equal(seat, "all") ? NULL : seat,
                                      NULL); /* a report without its plot is still one */
  return TRUE;
}

GBytes *cw_job_make_report(CwProject *project, GError **error)
{
  CwReport report = {.vehicle = cw_project_get_vehicle(project)};
  GBytes *bytes = NULL;
  if (gather(project, &report, error)) {
    const char *reference = cw_vehicle_get_reference(report.vehicle);
    g_autofree char *title = g_strdup_printf(_("Your sound system: %s"), reference);
    g_autofree char *foot = g_strdup_printf("%s · %s", reference, cw_vehicle_get_description(report.vehicle));
    CwPaperInfo info = {.title = title,
                        .subject = cw_vehicle_get_description(report.vehicle),
                        .creator = "Cabinwright",
                        .foot = foot,
                        .made_unix = report.made_unix};
    bytes = cw_paper_make(&info, compose, &report, error);
  }
  cw_prediction_free(report.prediction);
  g_free(report.checksum);
  g_free(report.restore_point);
  return bytes;
}

gboolean cw_job_write_report(CwProject *project, const char *path, CwReplace replace, GError **error)
{
  g_autoptr(GBytes) bytes = cw_job_make_report(project, error);
  gsize length;
  if (!bytes)
    return FALSE;
  const char *data = g_bytes_get_data(bytes, &length);
  return cw_job_write_file(path, data, (gssize)length, replace, error);
}
