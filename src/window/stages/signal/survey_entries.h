/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/stages/signal/survey_recorder.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The rows of a grid in which a person says how a take is recorded. The widgets belong to the grid. */
typedef struct {
  GtkWidget *leads, *way, *step, *seat, *volts;
} CwSurveyEntries;

/* Adds them from a row of the grid on. */
void cw_survey_entries_add(CwSurveyEntries *entries, GtkWidget *grid, int row);

/* A row with a label, an entry and words after it; returns the entry. */
GtkWidget *cw_survey_add_entry(GtkWidget *grid, int row, const char *label, const char *tip,
                               const char *after);

/* Shows or hides the row of a grid that a widget of its second column stands in. */
void cw_survey_show_row(GtkWidget *grid, GtkWidget *value, gboolean visible);

/* Which leads, and whether they are recorded in pairs. FALSE where that is not to be understood. */
gboolean cw_survey_entries_read_leads(const CwSurveyEntries *entries, CwSurveySetting *setting);

/* The whole setting; what is wrong is marked. The volts are NAN where none were entered.
 */
gboolean cw_survey_entries_read(const CwSurveyEntries *entries, CwSurveySetting *setting);
const char *cw_survey_entries_get_seat(const CwSurveyEntries *entries);

/* A number in an entry, with a point or a comma; NAN where it is none. */
double cw_survey_read_number(GtkWidget *entry);

/* Marks an entry as wrong or right, and returns which. */
gboolean cw_survey_mark(GtkWidget *entry, gboolean right);

G_END_DECLS
