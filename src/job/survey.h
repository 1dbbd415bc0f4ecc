/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "survey/survey.h"
#include "vehicle/kinds.h"
#include "vehicle/project.h"

G_BEGIN_DECLS

/* A survey in the making: gathered from the list of takes, computed in any thread, stored in the project's own. */
typedef struct CwSurveyWork CwSurveyWork;

/* From a list of takes (CwSurveyTakes); folder is what relative recordings are relative to. NULL with error where the list is at fault. */
CwSurveyWork *cw_survey_work_new(CwRecord *vehicle, CwRecord *takes, const char *folder, GError **error);

/* The same from a file, TAKES.json; errors name it. */
CwSurveyWork *cw_survey_work_read(CwRecord *vehicle, const char *path, GError **error);
void cw_survey_work_free(CwSurveyWork *work);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwSurveyWork, cw_survey_work_free)

/* Computes. A recording that is not fit for use becomes a finding; FALSE with error where without it nothing can be said. */
gboolean cw_survey_work_run(CwSurveyWork *work, GCancellable *cancellable, CwProgress progress, gpointer data, GError **error);

/* The survey's record (CwSurvey), borrowed, once it ran. */
CwRecord *cw_survey_work_get_survey(CwSurveyWork *work);

/* Puts survey, findings and the correction of the inputs into the project's vehicle; the caller commits. */
void cw_survey_work_store(CwSurveyWork *work, CwProject *project);

G_END_DECLS
