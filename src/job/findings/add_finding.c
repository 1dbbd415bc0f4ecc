/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/review.h"

void cw_job_add_finding(CwRecord *vehicle, const char *code, CwSeverity severity, CwRouteStage stage,
                        gint64 output, const char *text, const char *evidence, const char *advice)
{
  CwRecord *finding = cw_vehicle_add_finding(vehicle, code, severity, stage);

  if (output > 0)
    cw_about_set_output(cw_finding_make_about(finding), output);
  cw_finding_set_text(finding, text);
  cw_finding_set_evidence(finding, evidence);
  cw_finding_set_advice(finding, advice);
}
