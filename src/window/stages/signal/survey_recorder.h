/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_run.h"

G_BEGIN_DECLS

/* Records the takes of a survey, one after the other as the person plays them, and says of each at once
 * whether it is fit for use. Nothing is stored before it concludes; that is one edit. */
#define CW_TYPE_SURVEY_RECORDER (cw_survey_recorder_get_type())
G_DECLARE_FINAL_TYPE(CwSurveyRecorder, cw_survey_recorder, CW, SURVEY_RECORDER, CwSoundRun)

#define CW_SURVEY_LEADS_MOST 8

/* How a recording is made. */
typedef struct {
  int lead[CW_SURVEY_LEADS_MOST]; /* on the device's inputs, in order */
  guint leads;
  gboolean
      in_pairs; /* on two inputs: the first lead in every recording, with one after the other of the rest */
  gint64 volume_step; /* CW_NO_INTEGER: not noted */
  const char *seat_setting;
  double volts; /* peak, at the interface's full scale; NAN where it is not known */
} CwSurveySetting;

/* Records the survey's takes over the desk. The caller's reference. */
CwSurveyRecorder *cw_survey_recorder_new(CwSession *session, CwSoundDesk *desk);

/* The takes that a survey needs (CwTrackTake), borrowed. */
CwList *cw_survey_recorder_get_takes(CwSurveyRecorder *recorder);
double cw_survey_recorder_get_seconds(CwSurveyRecorder *recorder, guint take);

/* Records a take, in pairs its next pair. Nothing while it runs. */
void cw_survey_recorder_start(CwSurveyRecorder *recorder, guint take, const CwSurveySetting *setting);

/* The lead that is on the second input in the take's next recording, where it is recorded in pairs: the first
 * that was not heard yet. */
int cw_survey_recorder_get_second(CwSurveyRecorder *recorder, guint take, const CwSurveySetting *setting);

/* Of a take: the leads of a setting that were heard in recordings that are fit for use. */
guint cw_survey_recorder_count_leads(CwSurveyRecorder *recorder, guint take, const CwSurveySetting *setting);

/* Of a take: recordings that are fit for use; and what was wrong with the last one, NULL if nothing was. */
guint cw_survey_recorder_count(CwSurveyRecorder *recorder, guint take);
const char *cw_survey_recorder_get_fault(CwSurveyRecorder *recorder, guint take);

/* The first take, looking on from one and round, that is not recorded yet, or in pairs not with all leads;
 * the number of takes if all are. */
guint cw_survey_recorder_find_next(CwSurveyRecorder *recorder, guint from);

/* Records some seconds of the volts track, beside the takes and counted after them: a channel each of the
 * setting's leads, the multimeter on the lead of one channel (from 0). What came of the last one is borrowed,
 * NULL before. */
void cw_survey_recorder_start_tone(CwSurveyRecorder *recorder, const CwSurveySetting *setting, guint channel);
const CwRecording *cw_survey_recorder_get_tone(CwSurveyRecorder *recorder);
guint cw_survey_recorder_get_tone_channel(CwSurveyRecorder *recorder);
int cw_survey_recorder_get_tone_lead(CwSurveyRecorder *recorder);

/* Whether the last run was of it. */
gboolean cw_survey_recorder_is_at_tone(CwSurveyRecorder *recorder);

/* The volts at full scale that the next conclusion is to tell levels by. Nothing while it runs. */
void cw_survey_recorder_set_volts(CwSurveyRecorder *recorder, double volts);

/* Forgets what was recorded. */
void cw_survey_recorder_begin_anew(CwSurveyRecorder *recorder);

/* The work so far, for a worker of kind cw_survey_conclusion; NULL before anything was recorded. */
gpointer cw_survey_recorder_ref_work(CwSurveyRecorder *recorder);

G_END_DECLS
