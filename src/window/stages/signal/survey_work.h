/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/survey/survey.h"
#include "window/stages/signal/survey_recorder.h"
#include "window/widgets/worker.h"

G_BEGIN_DECLS

/* What was heard of a radio so far: a survey in the making that the main loop and a thread share; counted
 * references. One call at a time. */
typedef struct CwSurveyHeard CwSurveyHeard;

/* The takes that were heard so far, none at first; volts: peak volts that fill the interface. The caller's
 * reference. */
CwSurveyHeard *cw_survey_heard_new(CwRecord *vehicle, double volts);

/* Another reference; safe from any thread. */
CwSurveyHeard *cw_survey_heard_ref(CwSurveyHeard *heard);

/* Gives a reference back; the last one frees. */
void cw_survey_heard_unref(CwSurveyHeard *heard);

/* Changes the scale of all that was heard. */
void cw_survey_heard_set_volts(CwSurveyHeard *heard, double volts);

/* Recordings of a take (CwTrackTake) that are fit for use. */
guint cw_survey_heard_count(CwSurveyHeard *heard, CwRecord *take);

/* Hears a recording, which it takes over, in another thread; the task's pointer is the sentence that says
 * what is wrong, NULL if nothing is. */
void cw_survey_heard_hear_async(CwSurveyHeard *heard, CwRecord *take, const CwSurveySetting *setting,
                                CwRecording *recording, GObject *source, GAsyncReadyCallback callback);

/* Kinds of work for a worker, each giving a survey: from what was heard (CwSurveyHeard), from a list of
 * recordings (CwSurveyWork), and from the practice bay's radio, all takes at once (cw_practice_survey_new()).
 */
extern const CwWorkKind cw_survey_conclusion, cw_survey_from_files, cw_survey_of_practice;

/* The survey of the practice radio as work for a worker; the caller's. */
gpointer cw_practice_survey_new(CwRecord *vehicle, const char *seat_setting);

G_END_DECLS
