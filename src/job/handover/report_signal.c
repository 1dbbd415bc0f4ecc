/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/handover/report_private.h"

#include <glib/gi18n-lib.h>
#include <math.h>

static char *known(const char *label)
{
  return g_strdup(*label ? label : "?");
}

/* A level in volts and in dBV; NULL for none. */
static char *say_level(double dbv)
{
  return isnan(dbv) ? NULL : g_strdup_printf(_("%.3g V, %.1f dBV"), pow(10, dbv / 20), dbv);
}

static void report_leads(CwPaper *paper, CwList *leads, gboolean volts)
{
  const CwPaperColumn columns[] = {{_("Lead"), 0.6, TRUE},
                                   {_("Side"), 1, FALSE},
                                   {_("End"), 1, FALSE},
                                   {_("Band"), 0.8, FALSE},
                                   {_("At the survey's volume"), 1.8, TRUE},
                                   {_("At the highest clean one"), 1.8, TRUE}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < cw_list_get_length(leads); i++) {
    CwRecord *lead = cw_list_get(leads, i);
    g_ptr_array_add(cells, g_strdup_printf("%d", (int)cw_lead_get_lead(lead)));
    g_ptr_array_add(cells, known(cw_lead_say_side(lead)));
    g_ptr_array_add(cells, known(cw_lead_say_end(lead)));
    g_ptr_array_add(cells, known(cw_lead_say_band(lead)));
    g_ptr_array_add(cells, volts ? say_level(cw_lead_get_level_dbv(lead)) : NULL);
    g_ptr_array_add(cells, volts ? say_level(cw_lead_get_clean_dbv(lead)) : NULL);
  }
  cw_paper_table(paper, columns, G_N_ELEMENTS(columns), (const char *const *)cells->pdata,
                 cw_list_get_length(leads));
}

void cw_report_signal(CwPaper *paper, const CwReport *report)
{
  CwRecord *survey = cw_vehicle_get_survey(report->vehicle);
  CwList *leads = survey ? cw_survey_get_leads(survey) : NULL;
  gint64 step = survey ? cw_survey_get_clean_volume_step(survey) : CW_NO_INTEGER;
  if (!leads || cw_list_get_length(leads) == 0)
    return;
  cw_paper_heading(paper, _("What the factory radio gives"));
  report_leads(paper, leads, !cw_survey_get_volts_untold(survey));
  if (step != CW_NO_INTEGER)
    cw_paper_say(paper, cw_paper_text,
                 _("Volts of a full-scale sine in the lead's band. Up to volume step %d the radio is clean."),
                 (int)step);
  else
    cw_paper_text(paper, _("Volts of a full-scale sine in the lead's band."));
}
