/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/survey_inputs.h"

#include "job/survey/survey_curves.h"
#include "job/survey/survey_mix.h"
#include "window/stages/signal/input_curve.h"
#include "window/stages/signal/survey_leads.h"
#include "window/widgets/page.h"
#include "window/widgets/tab_stop.h"

#include <glib/gi18n-lib.h>

struct CwSurveyInputs {
  CwSession *session;
  CwInputCurve curve;
  CwFilterEditor *editor;
  GtkWidget *box, *list, *skip, *again;
  GArray *leads; /* gint64, in the list's order */
  char *filled;
  gboolean filling;
};

/* The leads in the mix by their input, then those that were left out. */
static void list_leads(CwSurveyInputs *inputs, CwRecord *vehicle)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle), *survey = cw_vehicle_get_survey(vehicle);
  CwList *used = tune ? cw_tune_get_inputs(tune) : NULL, *all = survey ? cw_survey_get_leads(survey) : NULL;
  g_array_set_size(inputs->leads, 0);
  for (guint i = 0; used && i < cw_list_get_length(used); i++) {
    gint64 lead = cw_input_correction_get_lead(cw_list_get(used, i));
    if (lead != CW_NO_INTEGER)
      g_array_append_val(inputs->leads, lead);
  }
  for (guint i = 0; all && i < cw_list_get_length(all); i++) {
    gint64 lead = cw_lead_get_lead(cw_list_get(all, i));
    if (cw_lead_get_skipped(cw_list_get(all, i)) && !cw_job_find_corrected_input(vehicle, lead))
      g_array_append_val(inputs->leads, lead);
  }
}

static char *say_row(CwRecord *vehicle, gint64 lead)
{
  CwRecord *input = cw_job_find_corrected_input(vehicle, lead);
  if (!input)
    return g_strdup_printf(_("Lead %d\nleft out"), (int)lead);
  return g_strdup_printf(_("Input %d: lead %d\n%s"), (int)cw_input_correction_get_input(input), (int)lead,
                         cw_job_input_is_by_hand(vehicle, input) ? _("✎ changed by hand")
                                                                 : _("as worked out"));
}

/* The list's rows, made anew only when they say something else. */
static void fill(CwSurveyInputs *inputs, CwRecord *vehicle)
{
  g_autoptr(GString) wanted = g_string_new(NULL);
  list_leads(inputs, vehicle);
  for (guint i = 0; i < inputs->leads->len; i++) {
    g_autofree char *words = say_row(vehicle, g_array_index(inputs->leads, gint64, i));
    g_string_append_printf(wanted, "%s|", words);
  }
  if (g_strcmp0(wanted->str, inputs->filled) == 0)
    return;
  g_free(inputs->filled);
  inputs->filled = g_strdup(wanted->str);
  for (GtkListBoxRow *row; (row = gtk_list_box_get_row_at_index(GTK_LIST_BOX(inputs->list), 0));)
    gtk_list_box_remove(GTK_LIST_BOX(inputs->list), GTK_WIDGET(row));
  for (guint i = 0; i < inputs->leads->len; i++) {
    g_autofree char *words = say_row(vehicle, g_array_index(inputs->leads, gint64, i));
    gtk_list_box_append(GTK_LIST_BOX(inputs->list), cw_text(words));
  }
}

static int place_of(CwSurveyInputs *inputs, gint64 lead)
{
  for (guint i = 0; i < inputs->leads->len; i++)
    if (g_array_index(inputs->leads, gint64, i) == lead)
      return (int)i;
  return -1;
}

static void show_chosen(CwSurveyInputs *inputs)
{
  CwRecord *vehicle = cw_session_get_vehicle(inputs->session), *input = cw_input_curve_find(&inputs->curve);
  gtk_button_set_label(GTK_BUTTON(inputs->skip),
                       input || inputs->curve.lead == CW_NO_INTEGER ? _("Leave out") : _("Take in again"));
  gtk_widget_set_sensitive(inputs->skip, inputs->curve.lead != CW_NO_INTEGER);
  gtk_widget_set_sensitive(inputs->again, input && cw_job_input_is_by_hand(vehicle, input));
  cw_filter_editor_refresh(inputs->editor);
}

void cw_survey_inputs_refresh(CwSurveyInputs *inputs)
{
  CwRecord *vehicle = cw_session_get_vehicle(inputs->session);
  inputs->filling = TRUE;
  fill(inputs, vehicle);
  if (place_of(inputs, inputs->curve.lead) < 0)
    inputs->curve.lead = inputs->leads->len ? g_array_index(inputs->leads, gint64, 0) : CW_NO_INTEGER;
  if (inputs->curve.lead != CW_NO_INTEGER)
    gtk_list_box_select_row(
        GTK_LIST_BOX(inputs->list),
        gtk_list_box_get_row_at_index(GTK_LIST_BOX(inputs->list), place_of(inputs, inputs->curve.lead)));
  inputs->filling = FALSE;
  show_chosen(inputs);
}

static void on_selected(CwSurveyInputs *inputs, GtkListBoxRow *row)
{
  if (inputs->filling || !row)
    return;
  inputs->curve.lead = g_array_index(inputs->leads, gint64, (guint)gtk_list_box_row_get_index(row));
  show_chosen(inputs);
}

static void on_skip(CwSurveyInputs *inputs)
{
  cw_skip_lead(inputs->session, inputs->curve.lead, cw_input_curve_find(&inputs->curve) != NULL);
}

static void on_again(CwSurveyInputs *inputs)
{
  g_autofree char *what = g_strdup_printf(_("Work lead %d out again"), (int)inputs->curve.lead);
  if (cw_job_redo_lead(cw_session_get_vehicle(inputs->session), inputs->curve.lead))
    cw_session_commit(inputs->session, what);
  else
    cw_session_tell(inputs->session, CW_TOLD_ATTEND,
                    _("The mix would not use this lead now. Leave it out, or keep it as it is."));
}

static GtkWidget *new_button(CwSurveyInputs *inputs, const char *label, const char *tip,
                             void (*clicked)(CwSurveyInputs *))
{
  GtkWidget *button = gtk_button_new_with_label(label);
  gtk_widget_set_tooltip_text(button, tip);
  g_signal_connect_swapped(button, "clicked", G_CALLBACK(clicked), inputs);
  gtk_box_append(GTK_BOX(inputs->box), button);
  return button;
}

CwSurveyInputs *cw_survey_inputs_new(CwSession *session)
{
  CwSurveyInputs *inputs = g_new0(CwSurveyInputs, 1);
  inputs->session = session;
  inputs->curve = (CwInputCurve){session, CW_NO_INTEGER};
  inputs->leads = g_array_new(FALSE, FALSE, sizeof(gint64));
  inputs->editor = cw_filter_editor_new(session, &cw_input_filters, &inputs->curve);
  inputs->box = g_object_ref_sink(gtk_box_new(GTK_ORIENTATION_VERTICAL, 8));
  inputs->list = gtk_list_box_new();
  cw_make_one_tab_stop(inputs->list);
  gtk_list_box_set_selection_mode(GTK_LIST_BOX(inputs->list), GTK_SELECTION_BROWSE);
  gtk_widget_add_css_class(inputs->list, "outputs");
  cw_set_name(inputs->list, _("Inputs"));
  gtk_widget_set_size_request(inputs->box, 160, -1);
  gtk_box_append(GTK_BOX(inputs->box), inputs->list);
  inputs->skip = new_button(inputs, _("Leave out"), _("The mix does without this lead"), on_skip);
  inputs->again = new_button(inputs, _("Work out again"),
                             _("In place of what was changed by hand; the other inputs stay"), on_again);
  g_signal_connect_swapped(inputs->list, "row-selected", G_CALLBACK(on_selected), inputs);
  return inputs;
}

void cw_survey_inputs_free(CwSurveyInputs *inputs)
{
  g_signal_handlers_disconnect_by_data(inputs->list, inputs);
  cw_filter_editor_free(inputs->editor);
  g_object_unref(inputs->box);
  g_array_unref(inputs->leads);
  g_free(inputs->filled);
  g_free(inputs);
}

GtkWidget *cw_survey_inputs_get_list(CwSurveyInputs *inputs)
{
  return inputs->box;
}

GtkWidget *cw_survey_inputs_get_curve(CwSurveyInputs *inputs)
{
  return cw_filter_editor_get_curve(inputs->editor);
}

GtkWidget *cw_survey_inputs_get_values(CwSurveyInputs *inputs)
{
  return cw_filter_editor_get_values(inputs->editor);
}
