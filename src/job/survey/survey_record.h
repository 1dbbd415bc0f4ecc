/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/survey.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* The survey's result as a record (CwSurvey), without findings, sums and correction. The caller's. */
CwRecord *cw_job_survey_record(const CwSurveyResult *result);

/* A trouble as the survey carries it (CwToldTrouble) as plain figures; FALSE where its code is not known. */
gboolean cw_job_read_trouble(CwRecord *record, CwTrouble *trouble);

/* By how much the delay told of a lead may be off, ms, twice its standard deviation; 0 where that is too
 * little to speak of, or no delay is told. */
double cw_job_delay_doubt_ms(CwRecord *lead);

G_END_DECLS
