/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/stages/signal/survey_recorder.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The rows that lead through the one reading of the multimeter: on which lead it is, what it reads, and what
 * came of it. Its two entries stand in a grid from a row on. */
GtkWidget *cw_survey_volts_new(CwSession *session, CwSoundDesk *desk, CwSurveyRecorder *recorder,
                               GtkWidget *grid, int row);
void cw_survey_volts_show(GtkWidget *volts, gboolean visible);
void cw_survey_volts_refresh(GtkWidget *volts);

/* Records the tone on the leads of a setting; FALSE if the multimeter's lead is none of them, which is then
 * marked. */
gboolean cw_survey_volts_record(GtkWidget *volts, const CwSurveySetting *setting);

/* Where it stands, in a few words; the caller's. */
char *cw_survey_volts_say_state(GtkWidget *volts);

G_END_DECLS
