/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/stages/signal/survey_recorder.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Leads a person through the takes of a survey: which is next, what to play and to turn, what comes in, and
 * whether a take is fit for use. */
GtkWidget *cw_survey_guide_new(CwSession *session, CwSoundDesk *desk, CwSurveyRecorder *recorder);
void cw_survey_guide_refresh(GtkWidget *guide);

/* A button below the takes; called with data as its first argument. */
GtkWidget *cw_survey_guide_add_button(GtkWidget *guide, const char *label, GCallback clicked, gpointer data);

/* Records the take that is chosen, as the entries say; FALSE if something in them is wrong, which is then
 * marked. */
gboolean cw_survey_guide_record(GtkWidget *guide);

/* Hands the volts that stand in its entry on to what was heard, before it is concluded. */
void cw_survey_guide_tell_volts(GtkWidget *guide);
const char *cw_survey_guide_get_seat_setting(GtkWidget *guide);

G_END_DECLS
