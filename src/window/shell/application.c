/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/application.h"

#include "window/shell/actions.h"
#include "window/shell/window.h"
#include "window/state/identity.h"
#include "window/state/length.h"
#include "window/state/practice_vehicle.h"
#include "window/state/settings.h"

#include <glib/gi18n-lib.h>

struct _CwApplication {
  GtkApplication parent_instance;
  CwSoundClient *sound;
  CwSoundDesk *desk;
};

G_DEFINE_FINAL_TYPE(CwApplication, cw_application, GTK_TYPE_APPLICATION)

static void load_style(void)
{
  g_autoptr(GtkCssProvider) provider = gtk_css_provider_new();
  gtk_css_provider_load_from_resource(provider, "/io/github/cabinwright/style.css");
  gtk_style_context_add_provider_for_display(gdk_display_get_default(), GTK_STYLE_PROVIDER(provider),
                                             GTK_STYLE_PROVIDER_PRIORITY_APPLICATION);
  gtk_icon_theme_add_resource_path(gtk_icon_theme_get_for_display(gdk_display_get_default()),
                                   "/io/github/cabinwright/icons");
  gtk_window_set_default_icon_name(CW_APPLICATION_ID);
}

/* A window on this project, if there is one already. */
static GtkWindow *find_window(CwApplication *application, const char *path)
{
  for (GList *l = gtk_application_get_windows(GTK_APPLICATION(application)); l; l = l->next) {
    CwProject *project =
        CW_IS_WINDOW(l->data) ? cw_session_get_project(cw_window_get_session(l->data)) : NULL;
    if (project && g_str_equal(cw_project_get_path(project), path))
      return l->data;
  }
  return NULL;
}

static CwWindow *new_window(CwApplication *application)
{
  g_autoptr(GMenuModel) menu = cw_actions_new_menu();
  CwWindow *window = cw_window_new(GTK_APPLICATION(application), application->desk, menu);
  cw_actions_install_in_window(window);
  return window;
}

/* The window in which the next project may be shown: the one given or any without a project, else a new one.
 */
static CwWindow *free_window(CwApplication *application, GtkWindow *window)
{
  if (CW_IS_WINDOW(window) && !cw_session_get_project(cw_window_get_session(CW_WINDOW(window))))
    return CW_WINDOW(window);
  for (GList *l = gtk_application_get_windows(GTK_APPLICATION(application)); l; l = l->next)
    if (CW_IS_WINDOW(l->data) && !cw_session_get_project(cw_window_get_session(l->data)))
      return l->data;
  return new_window(application);
}

static void add_to_recent(const char *path)
{
  g_autofree char *uri = g_filename_to_uri(path, NULL, NULL);
  GtkRecentData recent = {.mime_type = (char *)"application/x-cabinwright-vehicle",
                          .app_name = (char *)"Cabinwright",
                          .app_exec = (char *)"cabinwright %u"};
  if (uri)
    gtk_recent_manager_add_full(gtk_recent_manager_get_default(), uri, &recent);
}

void cw_application_show_project(CwApplication *application, CwProject *project, GtkWindow *window)
{
  CwWindow *shown = free_window(application, window);
  add_to_recent(cw_project_get_path(project));
  cw_window_show_project(shown, project);
  gtk_window_present(GTK_WINDOW(shown));
}

/* Opens a project file, or says in a window why not. */
static void open_file(CwApplication *application, GFile *file, GtkWindow *window)
{
  g_autofree char *path = g_file_get_path(file);
  g_autoptr(GError) error = NULL;
  GtkWindow *open = path ? find_window(application, path) : NULL;
  if (open) {
    gtk_window_present(open);
    return;
  }
  g_autoptr(CwProject) project = path ? cw_project_open(path, &error) : NULL;
  if (project) {
    cw_application_show_project(application, project, window);
    return;
  }
  if (!CW_IS_WINDOW(window))
    window = gtk_application_get_active_window(GTK_APPLICATION(application));
  CwWindow *shown = CW_IS_WINDOW(window) ? CW_WINDOW(window) : free_window(application, NULL);
  gtk_window_present(GTK_WINDOW(shown));
  cw_session_tell(cw_window_get_session(shown), CW_TOLD_FAILED, _("Not opened: %s. The file is as it was."),
                  error ? error->message : _("it is not on this computer; copy it here first"));
}

/* Opens the practice bay's vehicle: "alder-tourer" or "rowan-van". */
static void practice(CwApplication *application, const char *car, GtkWindow *window)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *path = cw_practice_path(car);
  GtkWindow *open = find_window(application, path);
  if (open) {
    gtk_window_present(open);
    return;
  }
  g_autoptr(CwProject) project = cw_practice_open(car, &error);
  if (project) {
    cw_sound_desk_set_device(application->desk, CW_SOUND_PRACTICE_DEVICE);
    cw_application_show_project(application, project, window);
    return;
  }
  CwWindow *shown = free_window(application, window);
  gtk_window_present(GTK_WINDOW(shown));
  cw_session_tell(cw_window_get_session(shown), CW_TOLD_FAILED,
                  _("The practice bay could not be opened: %s. Nothing was changed; begin the practice "
                    "afresh from the menu."),
                  error->message);
}

static void on_practice(GSimpleAction *action, GVariant *parameter, gpointer application)
{
  practice(application, "alder-tourer", gtk_application_get_active_window(GTK_APPLICATION(application)));
}

static void on_practice_car(GSimpleAction *action, GVariant *car, gpointer application)
{
  practice(application, g_variant_get_string(car, NULL),
           gtk_application_get_active_window(GTK_APPLICATION(application)));
}

static void on_open(GSimpleAction *action, GVariant *uri, gpointer application)
{
  g_autoptr(GFile) file = g_file_new_for_uri(g_variant_get_string(uri, NULL));
  open_file(application, file, gtk_application_get_active_window(GTK_APPLICATION(application)));
}

static void on_quit(GSimpleAction *action, GVariant *parameter, gpointer application)
{
  GList *windows = g_list_copy(gtk_application_get_windows(GTK_APPLICATION(application)));
  g_list_foreach(windows, (GFunc)(void *)gtk_window_close, NULL);
  g_list_free(windows);
}

/* The actions that need no window. */
static void install_actions(CwApplication *application)
{
  static const GActionEntry entries[] = {
      {.name = "practice", .activate = on_practice},
      {.name = "practice-car", .activate = on_practice_car, .parameter_type = "s"},
      {.name = "open", .activate = on_open, .parameter_type = "s"},
      {.name = "quit", .activate = on_quit},
  };
  g_action_map_add_action_entries(G_ACTION_MAP(application), entries, G_N_ELEMENTS(entries), application);
  if (cw_settings_get()) {
    g_autoptr(GAction) inches = g_settings_create_action(cw_settings_get(), "inches");
    cw_length_choose_first();
    g_action_map_add_action(G_ACTION_MAP(application), inches);
  }
  cw_actions_set_keys(GTK_APPLICATION(application));
}

static void application_startup(GApplication *gapplication)
{
  CwApplication *application = CW_APPLICATION(gapplication);
  G_APPLICATION_CLASS(cw_application_parent_class)->startup(gapplication);
  application->sound = cw_sound_client_new(NULL);
  application->desk = cw_sound_desk_new(application->sound);
  load_style();
  install_actions(application);
}

static void application_activate(GApplication *gapplication)
{
  GtkWindow *window = gtk_application_get_active_window(GTK_APPLICATION(gapplication));
  if (!window)
    window = GTK_WINDOW(new_window(CW_APPLICATION(gapplication)));
  gtk_window_present(window);
}

static void application_open(GApplication *gapplication, GFile **files, int n_files, const char *hint)
{
  for (int i = 0; i < n_files; i++)
    open_file(CW_APPLICATION(gapplication), files[i], NULL);
}

/* The option is passed on as an action, so that it works on a program that runs already. */
static int application_handle_local_options(GApplication *gapplication, GVariantDict *options)
{
  g_autoptr(GError) error = NULL;
  if (!g_variant_dict_contains(options, "practice"))
    return -1;
  if (!g_application_register(gapplication, NULL, &error)) {
    g_printerr("cabinwright: %s\n", error->message);
    return 1;
  }
  g_action_group_activate_action(G_ACTION_GROUP(gapplication), "practice", NULL);
  return -1;
}

static void application_finalize(GObject *object)
{
  CwApplication *application = CW_APPLICATION(object);
  g_clear_object(&application->desk);
  g_clear_object(&application->sound);
  G_OBJECT_CLASS(cw_application_parent_class)->finalize(object);
}

static void cw_application_class_init(CwApplicationClass *klass)
{
  GApplicationClass *application_class = G_APPLICATION_CLASS(klass);
  G_OBJECT_CLASS(klass)->finalize = application_finalize;
  application_class->startup = application_startup;
  application_class->activate = application_activate;
  application_class->open = application_open;
  application_class->handle_local_options = application_handle_local_options;
}

static void cw_application_init(CwApplication *application)
{
  static const GOptionEntry options[] = {
      {"practice", 0, 0, G_OPTION_ARG_NONE, NULL, N_("Open the practice bay's vehicle"), NULL},
      {NULL},
  };
  g_application_add_main_option_entries(G_APPLICATION(application), options);
  g_application_set_option_context_parameter_string(G_APPLICATION(application), _("[VEHICLE.cabin…]"));
}

CwApplication *cw_application_new(void)
{
  return g_object_new(CW_TYPE_APPLICATION, "application-id", CW_APPLICATION_ID, "flags",
                      G_APPLICATION_HANDLES_OPEN, "resource-base-path", NULL, NULL);
}
