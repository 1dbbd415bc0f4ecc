/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/plan_view.h"
#include "window/record_rows.h"
#include "window/stages.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  GtkWidget *place;
  CwRecord *shown; /* the vehicle whose rows stand in the place */
} Sheet;

static void sheet_free(gpointer data)
{
  Sheet *sheet = data;
  g_clear_object(&sheet->shown);
  g_free(sheet);
}

/* Rows follow their record by themselves; only another vehicle needs others. */
static void refresh(gpointer data)
{
  Sheet *sheet = data;
  CwRecord *vehicle = cw_session_get_vehicle(sheet->session);
  if (!g_set_object(&sheet->shown, vehicle))
    return;
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(sheet->place), cw_record_rows_new(sheet->session, vehicle));
}

GtkWidget *cw_stage_sheet_new(CwSession *session, CwSoundDesk *desk)
{
  GtkWidget *page = cw_page_new(session, CW_STAGE_SHEET, _("Whose car, which seats matter, what is fitted."));
  GtkWidget *halves = gtk_paned_new(GTK_ORIENTATION_HORIZONTAL);
  Sheet *sheet = g_new0(Sheet, 1);
  sheet->session = session;
  sheet->place = gtk_scrolled_window_new();
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(sheet->place), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_widget_set_size_request(sheet->place, 380, -1);
  gtk_paned_set_start_child(GTK_PANED(halves), sheet->place);
  gtk_paned_set_end_child(GTK_PANED(halves), cw_plan_view_new(session));
  gtk_paned_set_position(GTK_PANED(halves), 560);
  gtk_paned_set_shrink_start_child(GTK_PANED(halves), FALSE);
  gtk_paned_set_shrink_end_child(GTK_PANED(halves), FALSE);
  cw_page_set_content(CW_PAGE(page), halves);
  cw_page_set_refresh(CW_PAGE(page), refresh, sheet, sheet_free);
  return page;
}
