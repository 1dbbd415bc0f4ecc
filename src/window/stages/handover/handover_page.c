/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/handover/report.h"
#include "window/stages/handover/refit_steps.h"
#include "window/stages/handover/restore_pane.h"
#include "window/stages/handover/table_pane.h"
#include "window/stages/stages.h"
#include "window/widgets/questions.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  GtkWidget *page, *table, *points, *export, *refit;
} Handover;

static void refresh(gpointer data)
{
  Handover *handover = data;
  cw_table_pane_refresh(handover->table);
  cw_restore_pane_refresh(handover->points);
  gboolean has_table = cw_table_pane_has_table(handover->table);
  CwRecord *tune = cw_vehicle_get_tune(cw_session_get_vehicle(handover->session));
  gboolean tuned = tune && cw_list_get_length(cw_tune_get_outputs(tune));
  cw_page_set_need(CW_PAGE(handover->page), tuned ? NULL : _("A table needs a tune."), CW_STAGE_TUNING);
  gtk_widget_set_sensitive(handover->export, has_table);
  gtk_widget_set_sensitive(handover->refit, tuned);
}

static void on_export(Handover *handover)
{
  cw_table_pane_export(handover->table);
}

static void on_refit(Handover *handover)
{
  cw_refit_ask(handover->page, handover->session);
}

static void on_report_path(const char *path, gpointer data)
{
  CwSession *session = data;
  g_autoptr(GError) error = NULL;
  if (cw_session_get_project(session) &&
      cw_job_write_report(cw_session_get_project(session), path, CW_REPLACE_ANY, &error))
    cw_session_tell(session, CW_TOLD_DONE, _("The report is in %s."), path);
  else if (error)
    cw_session_tell(session, CW_TOLD_FAILED,
                    _("The report was not written: %s. What was there is as it was; choose another folder."),
                    error->message);
}

static void on_report(Handover *handover)
{
  g_autofree char *name =
      g_strdup_printf("%s.pdf", cw_vehicle_get_reference(cw_session_get_vehicle(handover->session)));
  cw_ask_path(handover->page, GTK_FILE_CHOOSER_ACTION_SAVE, _("Write the report"), name, _("Reports"),
              "*.pdf", on_report_path, g_object_ref(handover->session), g_object_unref);
}

GtkWidget *cw_stage_handover_new(CwSession *session, CwSoundDesk *desk)
{
  Handover *handover = g_new0(Handover, 1);
  GtkWidget *halves = gtk_paned_new(GTK_ORIENTATION_HORIZONTAL);
  handover->session = session;
  handover->page = cw_page_new(session, CW_STAGE_HAND_OVER,
                               _("The table for the processor, the report for the customer, the way back."));
  handover->table = cw_table_pane_new(session);
  handover->points = cw_restore_pane_new(session);
  gtk_paned_set_start_child(GTK_PANED(halves), handover->table);
  gtk_paned_set_end_child(GTK_PANED(halves), handover->points);
  cw_share_room(halves, 55, 640);
  gtk_paned_set_shrink_start_child(GTK_PANED(halves), FALSE);
  gtk_paned_set_shrink_end_child(GTK_PANED(halves), FALSE);
  handover->refit = cw_page_add_button(CW_PAGE(handover->page), _("Re_fit to another processor"),
                                       G_CALLBACK(on_refit), handover);
  gtk_widget_set_tooltip_text(handover->refit, _("Writes another vehicle file with this tune within the "
                                                 "other processor's limits, and says what that costs"));
  cw_page_add_button(CW_PAGE(handover->page), _("Write the _report"), G_CALLBACK(on_report), handover);
  handover->export = cw_page_add_main_button(CW_PAGE(handover->page), _("_Export the table"),
                                             G_CALLBACK(on_export), handover);
  cw_page_set_content(CW_PAGE(handover->page), halves);
  cw_page_set_refresh(CW_PAGE(handover->page), refresh, handover, g_free);
  return handover->page;
}
