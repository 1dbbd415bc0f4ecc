/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "survey/survey.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* A survey in the making: gathered from the list of takes, computed in any thread, stored in the project's
 * own. */
typedef struct CwSurveyWork CwSurveyWork;

/* From a list of takes (CwSurveyTakes); folder is what relative recordings are relative to. Where the list
 * does not say the recorder's volts at full scale, the vehicle's reading does. NULL with error where the list
 * is at fault. */
CwSurveyWork *cw_survey_work_new(CwRecord *vehicle, CwRecord *takes, const char *folder, GError **error);

/* A survey recorded live: hear each take as it was recorded, hear it again to do it over, conclude when
 * enough is there. volts_per_full_scale: NAN where it is not known. Any thread, one call at a time. */
CwSurveyWork *cw_survey_work_new_live(CwRecord *vehicle, double volts_per_full_scale);

/* Hears one recording, one channel a lead, and takes it in place of earlier ones of the same track and seat
 * setting that hold none but these leads. Returns NULL if it is fit for use, else a sentence on what is wrong
 * and what to do (free with g_free()): it is left out then. volume_step: CW_NO_INTEGER where it was not
 * noted. seat: the radio's seat setting, "all" for none. Takes about a hundredth of the recording's length.
 */
char *cw_survey_work_hear(CwSurveyWork *work, CwStimulusKind kind, const int *leads, guint n_leads,
                          gint64 volume_step, const char *seat, const CwRecording *recording);

/* Sets the recorder's volts at full scale, or NAN, anew for the next conclusion. */
void cw_survey_work_set_volts(CwSurveyWork *work, double volts_per_full_scale);

/* Recordings of a track that are fit for use. */
guint cw_survey_work_count(const CwSurveyWork *work, CwStimulusKind kind);

/* Concludes from what was heard so far, as often as wanted. FALSE with error where without more nothing can
 * be said. */
gboolean cw_survey_work_conclude(CwSurveyWork *work, GError **error);

/* From a file, TAKES.json; errors name it. */
CwSurveyWork *cw_survey_work_read(CwRecord *vehicle, const char *path, GError **error);
void cw_survey_work_free(CwSurveyWork *work);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwSurveyWork, cw_survey_work_free)

/* Computes. A recording that is not fit for use becomes a finding; FALSE with error where without it nothing
 * can be said. */
gboolean cw_survey_work_run(CwSurveyWork *work, GCancellable *cancellable, CwProgress progress, gpointer data,
                            GError **error);

/* Recordings of the list that could not be read at all, or hold other channels than the list says: the list
 * is at fault then, and the survey was made of the rest. */
guint cw_survey_work_count_unread(const CwSurveyWork *work);

/* The survey's record (CwSurvey), borrowed, once it ran. */
CwRecord *cw_survey_work_get_survey(CwSurveyWork *work);

/* Puts survey, findings and the correction of the inputs into the project's vehicle; the caller commits.
 * Inputs that hands changed are replaced: they are kept in a restore point first. */
void cw_survey_work_store(CwSurveyWork *work, CwProject *project);

/* What became of inputs changed by hand when the survey was stored, for people; NULL where there were none.
 */
char *cw_survey_work_tell_replaced(CwSurveyWork *work);

G_END_DECLS
