/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/dialogs.h"

#include "job/input_file.h"
#include "vehicle/json/document.h"
#include "window/shell/help_window.h"
#include "window/state/identity.h"
#include "window/state/practice_vehicle.h"
#include "window/widgets/questions.h"

#include <glib/gi18n-lib.h>

#define FILTER_NAME _("Vehicles")
#define FILTER "*.cabin"

static void on_open_chosen(const char *path, gpointer window)
{
  g_autofree char *uri = g_filename_to_uri(path, NULL, NULL);
  gtk_widget_activate_action(window, "app.open", "s", uri);
}

void cw_dialogs_open(CwWindow *window)
{
  cw_ask_path(GTK_WIDGET(window), GTK_FILE_CHOOSER_ACTION_OPEN, _("Open a vehicle"), NULL, FILTER_NAME,
              FILTER, on_open_chosen, g_object_ref(window), g_object_unref);
}

static void create_project(CwWindow *window, const char *path, CwRecord *vehicle)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *with_suffix =
      g_str_has_suffix(path, ".cabin") ? g_strdup(path) : g_strconcat(path, ".cabin", NULL);
  g_autoptr(CwProject) project = cw_project_create(with_suffix, vehicle, &error);
  if (project) {
    g_autofree char *uri = g_filename_to_uri(cw_project_get_path(project), NULL, NULL);
    g_clear_object(&project); /* who opens it is the only one to hold it */
    gtk_widget_activate_action(GTK_WIDGET(window), "app.open", "s", uri);
    return;
  }
  cw_session_tell(cw_window_get_session(window), CW_TOLD_FAILED,
                  _("No vehicle was made: %s. Nothing was written; choose another name or folder."),
                  error->message);
}

static void on_new_chosen(const char *path, gpointer window)
{
  g_autoptr(CwRecord) vehicle = cw_record_new(cw_vehicle_get_type());
  g_autofree char *name = g_path_get_basename(path);
  char *suffix = g_strrstr(name, ".cabin");
  if (suffix)
    *suffix = '\0';
  cw_vehicle_set_reference(vehicle, name);
  create_project(window, path, vehicle);
}

/* Every edit is on the disk at once, so a vehicle begins with the question where. */
void cw_dialogs_new_vehicle(CwWindow *window)
{
  cw_ask_path(GTK_WIDGET(window), GTK_FILE_CHOOSER_ACTION_SAVE, _("New vehicle"), _("New job.cabin"),
              FILTER_NAME, FILTER, on_new_chosen, g_object_ref(window), g_object_unref);
}

typedef struct {
  CwWindow *window;
  CwRecord *vehicle;
} Sheet;

static void sheet_free(gpointer data)
{
  Sheet *sheet = data;
  g_object_unref(sheet->window);
  g_object_unref(sheet->vehicle);
  g_free(sheet);
}

static void on_sheet_place_chosen(const char *path, gpointer data)
{
  Sheet *sheet = data;
  create_project(sheet->window, path, sheet->vehicle);
}

static void on_sheet_chosen(const char *path, gpointer data)
{
  CwWindow *window = data;
  g_autofree char *json = NULL, *name = NULL;
  gsize length;
  g_autoptr(GError) error = NULL;
  CwRecord *vehicle = NULL;
  if ((json = cw_job_read_file(path, CW_DOCUMENT_MOST_BYTES, &length, &error)))
    vehicle = cw_record_from_json(cw_vehicle_get_type(), json, (gssize)length, &error);
  if (!vehicle) {
    cw_session_tell(cw_window_get_session(window), CW_TOLD_FAILED,
                    _("No vehicle was made: %s: %s. Mend the sheet and try again."), path, error->message);
    return;
  }
  Sheet *sheet = g_new0(Sheet, 1);
  *sheet = (Sheet){g_object_ref(window), vehicle};
  name = g_strconcat(cw_vehicle_get_reference(vehicle), ".cabin", NULL);
  cw_ask_path(GTK_WIDGET(window), GTK_FILE_CHOOSER_ACTION_SAVE, _("Where to keep the vehicle"), name,
              FILTER_NAME, FILTER, on_sheet_place_chosen, sheet, sheet_free);
}

void cw_dialogs_new_from_sheet(CwWindow *window)
{
  cw_ask_path(GTK_WIDGET(window), GTK_FILE_CHOOSER_ACTION_OPEN, _("Intake sheet"), NULL, _("Intake sheets"),
              "*.json", on_sheet_chosen, g_object_ref(window), g_object_unref);
}

static void begin_afresh(gpointer data)
{
  CwWindow *window = data;
  CwSession *session = cw_window_get_session(window);
  g_autoptr(GError) error = NULL;
  const char *car =
      cw_session_get_vehicle(session) ? cw_practice_car_of(cw_session_get_vehicle(session)) : "alder-tourer";
  g_autofree char *path = cw_practice_path(car);
  CwProject *project = cw_session_get_project(session);
  if (!cw_practice_set_aside(car, &error)) {
    cw_session_tell(session, CW_TOLD_FAILED, _("The practice was not begun afresh: %s. It is as it was."),
                    error->message);
    return;
  }
  if (project && g_str_equal(cw_project_get_path(project), path))
    cw_window_show_project(window, NULL);
  gtk_widget_activate_action(GTK_WIDGET(window), "app.practice-car", "s", car);
}

void cw_dialogs_practice_afresh(CwWindow *window)
{
  cw_ask_consent(
      GTK_WIDGET(window), _("Begin the practice afresh?"),
      _("The practice vehicle begins with its sheet alone. What you did so far is kept in a file beside it."),
      _("_Begin afresh"), begin_afresh, window);
}

static void on_restore_point_response(GtkDialog *dialog, int response, CwWindow *window)
{
  GtkWidget *entry = g_object_get_data(G_OBJECT(dialog), "entry");
  g_autofree char *name = g_strstrip(g_strdup(gtk_editable_get_text(GTK_EDITABLE(entry))));
  CwSession *session = cw_window_get_session(window);
  g_autoptr(GError) error = NULL;
  gtk_window_destroy(GTK_WINDOW(dialog));
  if (response != GTK_RESPONSE_ACCEPT || !*name)
    return;
  gboolean made = cw_project_make_restore_point(cw_session_get_project(session), name, &error);
  cw_session_announce(session);
  if (made)
    cw_session_tell(session, CW_TOLD_DONE,
                    _("Restore point “%s” is kept. Everything else is on the disk already."), name);
  else
    cw_session_tell(session, CW_TOLD_FAILED, _("No restore point was made: %s. Choose another name."),
                    error->message);
}

void cw_dialogs_name_restore_point(CwWindow *window)
{
  GtkWidget *dialog =
      gtk_message_dialog_new(GTK_WINDOW(window), GTK_DIALOG_MODAL | GTK_DIALOG_DESTROY_WITH_PARENT,
                             GTK_MESSAGE_OTHER, GTK_BUTTONS_NONE, "%s", _("Name a restore point"));
  GtkWidget *entry = gtk_entry_new();
  g_autoptr(GDateTime) now = g_date_time_new_now_local();
  g_autofree char *proposed = g_date_time_format(now, "%Y-%m-%d %H:%M");
  gtk_message_dialog_format_secondary_text(
      GTK_MESSAGE_DIALOG(dialog), "%s", _("You can go back to it, and compare with it, whenever you like."));
  gtk_editable_set_text(GTK_EDITABLE(entry), proposed);
  gtk_entry_set_activates_default(GTK_ENTRY(entry), TRUE);
  cw_set_name(entry, _("Name"));
  gtk_box_append(GTK_BOX(gtk_message_dialog_get_message_area(GTK_MESSAGE_DIALOG(dialog))), entry);
  gtk_dialog_add_buttons(GTK_DIALOG(dialog), _("_Cancel"), GTK_RESPONSE_CANCEL, _("_Keep"),
                         GTK_RESPONSE_ACCEPT, NULL);
  gtk_dialog_set_default_response(GTK_DIALOG(dialog), GTK_RESPONSE_ACCEPT);
  g_object_set_data(G_OBJECT(dialog), "entry", entry);
  g_signal_connect(dialog, "response", G_CALLBACK(on_restore_point_response), window);
  gtk_window_present(GTK_WINDOW(dialog));
}

/* The help page of the stage that is open. */
void cw_dialogs_show_help(CwWindow *window)
{
  CwPage *page = cw_window_get_page(window);
  cw_help_window_show(GTK_WINDOW(window), page ? cw_stages[cw_page_get_stage(page)].word : "index");
}

void cw_dialogs_show_about(CwWindow *window)
{
  gtk_show_about_dialog(GTK_WINDOW(window), "program-name", "Cabinwright", "version", CW_VERSION,
                        "logo-icon-name", CW_APPLICATION_ID, "comments",
                        _("Installs, measures and tunes sound systems in vehicles"), "license-type",
                        GTK_LICENSE_GPL_3_0, NULL);
}
