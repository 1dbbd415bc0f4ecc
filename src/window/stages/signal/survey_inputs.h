/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The correction of the processor's inputs by hand: the leads that are in the mix and those that were left
 * out, to choose from, to leave out, to take in, to work out again; the chosen one's curve with handles; its
 * settings and filters as rows. */
typedef struct CwSurveyInputs CwSurveyInputs;

/* The processor's inputs with their correction: a list, a curve and values, which the page places. Free
 * with cw_survey_inputs_free(). */
CwSurveyInputs *cw_survey_inputs_new(CwSession *session);

/* Frees it; its widgets belong to their parents. */
void cw_survey_inputs_free(CwSurveyInputs *inputs);

/* Shows the vehicle as it is now. */
void cw_survey_inputs_refresh(CwSurveyInputs *inputs);

/* The list of inputs; borrowed. */
GtkWidget *cw_survey_inputs_get_list(CwSurveyInputs *inputs);

/* The curve of the chosen input; borrowed. */
GtkWidget *cw_survey_inputs_get_curve(CwSurveyInputs *inputs);

/* The values of the chosen input; borrowed. */
GtkWidget *cw_survey_inputs_get_values(CwSurveyInputs *inputs);

G_END_DECLS
