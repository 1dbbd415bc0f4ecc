/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/survey.h"
#include "vehicle/kinds.h"

G_BEGIN_DECLS

/* The survey's result as a record (CwSurvey), without findings, sums and correction. The caller's. */
CwRecord *cw_job_survey_record(const CwSurveyResult *result);

G_END_DECLS
