/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/findings_pane.h"

#include "window/plots/take_plots.h"
#include "window/state/words.h"
#include "window/widgets/page.h"
#include "window/widgets/state_mark.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  GtkWidget *list;
  GPtrArray *shown; /* snapshots of the findings that stand in the list */
} Pane;

static void on_go_there(GtkButton *button, Pane *pane)
{
  int stage = GPOINTER_TO_INT(g_object_get_data(G_OBJECT(button), "stage"));
  int output = GPOINTER_TO_INT(g_object_get_data(G_OBJECT(button), "output"));
  if (output > 0)
    cw_session_set_output(pane->session, output);
  cw_session_set_stage(pane->session, stage);
}

static GtkWidget *new_go_button(Pane *pane, CwRecord *finding)
{
  CwRecord *about = cw_finding_get_about(finding);
  gint64 output = about ? cw_about_get_output(about) : CW_NO_INTEGER;
  int stage = cw_finding_get_stage(finding);
  GtkWidget *button = gtk_button_new_with_label(_("Go there"));
  g_autofree char *name = g_strdup_printf(_("Go to %s"), cw_say_stage(stage));
  gtk_widget_set_halign(button, GTK_ALIGN_START);
  gtk_widget_set_tooltip_text(button, name);
  g_object_set_data(G_OBJECT(button), "stage", GINT_TO_POINTER(stage));
  g_object_set_data(G_OBJECT(button), "output", GINT_TO_POINTER(output == CW_NO_INTEGER ? 0 : (int)output));
  g_signal_connect(button, "clicked", G_CALLBACK(on_go_there), pane);
  return button;
}

static void append_words(GtkWidget *box, const char *text, gboolean dim)
{
  if (text && *text)
    gtk_box_append(GTK_BOX(box), dim ? cw_dim_text(text) : cw_text(text));
}

/* What the finding was read off, small: the takes of its output, or its lead. NULL where it is about neither.
 */
static GtkWidget *new_evidence(Pane *pane, CwRecord *finding)
{
  CwRecord *vehicle = cw_session_get_vehicle(pane->session), *about = cw_finding_get_about(finding);
  gint64 output = about ? cw_about_get_output(about) : CW_NO_INTEGER,
         number = about ? cw_about_get_lead(about) : CW_NO_INTEGER;
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  CwRecord *take = cw_list_find_integer_at(cw_vehicle_get_takes(vehicle), CW_TAKE_FIELD_OUTPUT, output);
  CwRecord *lead =
      survey ? cw_list_find_integer_at(cw_survey_get_leads(survey), CW_LEAD_FIELD_LEAD, number) : NULL;
  if (!take && !lead)
    return NULL;
  GtkWidget *plot = cw_plot_view_new(_("Evidence"));
  CwPlot *data = cw_plot_view_get_plot(CW_PLOT_VIEW(plot));
  if (take) {
    cw_show_responses(CW_PLOT_VIEW(plot), vehicle, take);
  } else {
    g_autofree char *label = g_strdup_printf(_("lead %d"), (int)number);
    cw_plot_add_curve(data, label, cw_lead_get_response(lead), cw_colour_blue, CW_DASH_SOLID);
    cw_plot_fit_level_axis(data, 40, 20);
    cw_plot_view_update(CW_PLOT_VIEW(plot));
  }
  gtk_widget_set_size_request(plot, 290, 150);
  gtk_widget_set_vexpand(plot, FALSE);
  return plot;
}

static GtkWidget *new_card(Pane *pane, CwRecord *finding)
{
  GtkWidget *card = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6),
            *top = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8);
  g_autofree char *head = g_strdup_printf("%s · %s", cw_finding_say_severity(finding),
                                          cw_say_stage(cw_finding_get_stage(finding)));
  gtk_widget_add_css_class(card, "card");
  gtk_widget_add_css_class(card, "finding");
  gtk_box_append(GTK_BOX(top), cw_severity_mark_new(cw_finding_get_severity(finding)));
  gtk_box_append(GTK_BOX(top), cw_dim_text(head));
  gtk_box_append(GTK_BOX(card), top);
  append_words(card, cw_finding_get_text(finding), FALSE);
  append_words(card, cw_finding_get_evidence(finding), TRUE);
  GtkWidget *evidence = new_evidence(pane, finding);
  if (evidence)
    gtk_box_append(GTK_BOX(card), evidence);
  append_words(card, cw_finding_get_advice(finding), FALSE);
  gtk_box_append(GTK_BOX(card), new_go_button(pane, finding));
  return card;
}

static gboolean stand_already(Pane *pane, CwList *findings)
{
  gboolean same = pane->shown && pane->shown->len == cw_list_get_length(findings);
  for (guint i = 0; same && i < pane->shown->len; i++)
    same = cw_record_equal(g_ptr_array_index(pane->shown, i), cw_list_get(findings, i));
  return same;
}

static void keep(Pane *pane, CwList *findings)
{
  g_clear_pointer(&pane->shown, g_ptr_array_unref);
  pane->shown = g_ptr_array_new_with_free_func(g_object_unref);
  for (guint i = 0; i < cw_list_get_length(findings); i++)
    g_ptr_array_add(pane->shown, cw_record_snapshot(cw_list_get(findings, i)));
}

static void show_findings(Pane *pane)
{
  CwRecord *vehicle = cw_session_get_vehicle(pane->session);
  CwList *findings = vehicle ? cw_vehicle_get_findings(vehicle) : NULL;
  if (!findings || stand_already(pane, findings))
    return;
  keep(pane, findings);
  for (GtkWidget *child; (child = gtk_widget_get_first_child(pane->list));)
    gtk_box_remove(GTK_BOX(pane->list), child);
  for (CwSeverity severity = CW_SEVERITY_STOP; severity <= CW_SEVERITY_NOTE; severity++)
    for (guint i = 0; i < cw_list_get_length(findings); i++)
      if (cw_finding_get_severity(cw_list_get(findings, i)) == severity)
        gtk_box_append(GTK_BOX(pane->list), new_card(pane, cw_list_get(findings, i)));
  if (!cw_list_get_length(findings))
    gtk_box_append(GTK_BOX(pane->list), cw_dim_text(_("Nothing to settle so far.")));
}

static void pane_free(gpointer data)
{
  Pane *pane = data;
  g_clear_pointer(&pane->shown, g_ptr_array_unref);
  g_free(pane);
}

GtkWidget *cw_findings_pane_new(CwSession *session)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8), *scrolled = gtk_scrolled_window_new();
  pane->session = session;
  pane->list = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), pane->list);
  gtk_widget_set_vexpand(scrolled, TRUE);
  gtk_widget_add_css_class(box, "findings");
  gtk_widget_set_size_request(box, 340, -1);
  GtkWidget *head = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8), *heading = cw_heading(_("Findings"));
  GtkWidget *close = gtk_button_new_from_icon_name("window-close-symbolic");
  gtk_widget_set_hexpand(heading, TRUE);
  gtk_button_set_has_frame(GTK_BUTTON(close), FALSE);
  gtk_widget_set_tooltip_text(close, _("Hide the findings (F9)"));
  cw_set_name(close, _("Hide the findings"));
  gtk_actionable_set_action_name(GTK_ACTIONABLE(close), "win.findings");
  gtk_box_append(GTK_BOX(head), heading);
  gtk_box_append(GTK_BOX(head), close);
  gtk_box_append(GTK_BOX(box), head);
  gtk_box_append(GTK_BOX(box), scrolled);
  g_object_set_data_full(G_OBJECT(box), "pane", pane, pane_free);
  cw_connect_while_alive(session, "changed", G_CALLBACK(show_findings), pane, box);
  return box;
}
