/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/calibration.h"
#include "job/sheet/microphone.h"
#include "window/plan/plan_view.h"
#include "window/stages/stages.h"
#include "window/widgets/questions.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  GtkWidget *place;
  CwRecord *shown; /* the vehicle whose rows stand in the place */
  GtkWidget *page, *rows;
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
  gboolean empty = vehicle && !cw_list_get_length(cw_vehicle_get_speakers(vehicle));
  cw_page_set_need(CW_PAGE(sheet->page),
                   empty ? _("Begin with the speakers: one for each output of the processor.") : NULL,
                   CW_STAGE_SHEET);
  if (!g_set_object(&sheet->shown, vehicle))
    return;
  sheet->rows = cw_record_rows_new(sheet->session, vehicle);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(sheet->place), sheet->rows);
}

static void on_add_speaker(Sheet *sheet)
{
  GtkWidget *list = sheet->shown ? cw_record_rows_find_list(sheet->rows, "speakers") : NULL;
  if (list)
    cw_record_list_add(list);
}

/* The curve goes where the sheet says that the microphone points: each direction has its own. */
static void on_calibration_chosen(const char *path, gpointer data)
{
  Sheet *sheet = cw_page_get_data(CW_PAGE(data));
  CwRecord *vehicle = cw_session_get_vehicle(sheet->session);
  g_autoptr(GError) error = NULL;
  CwNumbers *curve = cw_calibration_read(path, &error);
  if (!curve) {
    cw_session_tell(
        sheet->session, CW_TOLD_FAILED,
        _("The calibration was not read: %s. The sheet is as it was; mend the file or choose another."),
        error->message);
    return;
  }
  CwRecord *microphone = vehicle ? cw_vehicle_make_microphone(vehicle) : NULL;
  int incidence = microphone ? cw_microphone_get_incidence(microphone) : CW_INCIDENCE_0;
  guint points = curve->n_rows;
  double low_hz = cw_numbers_at(curve, 0, 0), high_hz = cw_numbers_at(curve, points - 1, 0);
  if (vehicle)
    cw_job_set_calibration(vehicle, incidence, curve);
  cw_numbers_unref(curve);
  if (vehicle && cw_session_commit(sheet->session, _("Load the microphone's calibration")))
    cw_session_tell(
        sheet->session, CW_TOLD_DONE,
        incidence == CW_INCIDENCE_90
            ? _("Calibration of %u points from %.0f to %.0f Hz, for sound from the microphone's side.")
            : _("Calibration of %u points from %.0f to %.0f Hz, for sound at the microphone's tip."),
        points, low_hz, high_hz);
}

static void on_calibration(GtkWidget *page)
{
  cw_ask_path(page, GTK_FILE_CHOOSER_ACTION_OPEN, _("The microphone's calibration, a text file of Hz and dB"),
              NULL, NULL, NULL, on_calibration_chosen, g_object_ref(page), g_object_unref);
}

GtkWidget *cw_stage_sheet_new(CwSession *session, CwSoundDesk *desk)
{
  GtkWidget *page = cw_page_new(session, CW_STAGE_SHEET, _("Whose car, which seats matter, what is fitted."));
  GtkWidget *halves = gtk_paned_new(GTK_ORIENTATION_HORIZONTAL);
  Sheet *sheet = g_new0(Sheet, 1);
  sheet->session = session;
  sheet->page = page;
  sheet->place = gtk_scrolled_window_new();
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(sheet->place), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_widget_set_size_request(sheet->place, 380, -1);
  gtk_paned_set_start_child(GTK_PANED(halves), sheet->place);
  gtk_paned_set_end_child(GTK_PANED(halves), cw_plan_view_new(session));
  cw_share_room(halves, 50, 560);
  gtk_paned_set_shrink_start_child(GTK_PANED(halves), FALSE);
  gtk_paned_set_shrink_end_child(GTK_PANED(halves), FALSE);
  GtkWidget *calibration = cw_page_add_button(CW_PAGE(page), _("Load the microphone's _calibration"),
                                              G_CALLBACK(on_calibration), page);
  gtk_widget_set_tooltip_text(calibration, _("A text file of Hz and dB, as it came with the microphone; it "
                                             "goes where the sheet says that the microphone points"));
  cw_page_add_button(CW_PAGE(page), _("Add a _speaker"), G_CALLBACK(on_add_speaker), sheet);
  cw_page_set_content(CW_PAGE(page), halves);
  cw_page_set_refresh(CW_PAGE(page), refresh, sheet, sheet_free);
  return page;
}
