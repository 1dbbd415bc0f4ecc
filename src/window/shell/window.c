/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/window.h"

#include "window/shell/findings_pane.h"
#include "window/shell/route.h"
#include "window/shell/start_page.h"
#include "window/sound/sound_strip.h"
#include "window/stages/stages.h"
#include "window/state/settings.h"
#include "window/state/words.h"
#include "window/widgets/notice_bar.h"

#include <glib/gi18n-lib.h>

struct _CwWindow {
  GtkApplicationWindow parent_instance;
  CwSession *session;
  CwSoundDesk *desk;
  GtkWidget *title, *subtitle;
  GtkWidget *undo, *redo;
  GtkWidget *findings_button;
  GtkWidget *route;
  GtkWidget *front; /* start page or the job */
  GtkWidget *pages;
  GtkWidget *page[CW_ROUTE_STAGE_COUNT];
  GtkWidget *findings;
};

G_DEFINE_FINAL_TYPE(CwWindow, cw_window, GTK_TYPE_APPLICATION_WINDOW)

static guint shown_signal;

CwSession *cw_window_get_session(CwWindow *window)
{
  return window->session;
}

CwSoundDesk *cw_window_get_desk(CwWindow *window)
{
  return window->desk;
}

CwPage *cw_window_get_page(CwWindow *window)
{
  return cw_session_get_project(window->session)
             ? CW_PAGE(window->page[cw_session_get_stage(window->session)])
             : NULL;
}

gboolean cw_window_get_findings_shown(CwWindow *window)
{
  return gtk_revealer_get_reveal_child(GTK_REVEALER(window->findings));
}

void cw_window_set_findings_shown(CwWindow *window, gboolean shown)
{
  gtk_revealer_set_reveal_child(GTK_REVEALER(window->findings), shown);
  cw_settings_set_boolean("findings-shown", shown);
}

static void show_tooltip(GtkWidget *button, const char *format, const char *bare, const char *name)
{
  g_autofree char *text = name ? g_strdup_printf(format, name) : g_strdup(bare);
  if (g_strcmp0(gtk_widget_get_tooltip_text(button), text) != 0)
    gtk_widget_set_tooltip_text(button, text);
}

static void show_header(CwWindow *window)
{
  CwRecord *vehicle = cw_session_get_vehicle(window->session);
  CwProject *project = cw_session_get_project(window->session);
  CwHistory *history = project ? cw_project_get_history(project) : NULL;
  const char *why = project ? cw_project_get_read_only_reason(project) : NULL;
  g_autofree char *subtitle = why ? g_strdup_printf(_("Read only: %s"), why)
                                  : g_strdup(vehicle ? cw_vehicle_get_description(vehicle) : "");
  guint count = vehicle ? cw_list_get_length(cw_vehicle_get_findings(vehicle)) : 0;
  g_autofree char *findings =
      g_strdup_printf(g_dngettext(GETTEXT_PACKAGE, "%u finding", "%u findings", count), count);
  cw_show_text(window->title, vehicle ? cw_vehicle_get_reference(vehicle) : "Cabinwright");
  cw_show_text(window->subtitle, subtitle);
  gtk_widget_set_visible(window->subtitle, subtitle && *subtitle);
  gtk_window_set_title(GTK_WINDOW(window), vehicle ? cw_vehicle_get_reference(vehicle) : "Cabinwright");
  if (g_strcmp0(gtk_button_get_label(GTK_BUTTON(window->findings_button)), findings) != 0)
    gtk_button_set_label(GTK_BUTTON(window->findings_button), findings);
  show_tooltip(window->undo, _("Undo: %s"), _("Undo"), history ? cw_history_get_undo_name(history) : NULL);
  show_tooltip(window->redo, _("Redo: %s"), _("Redo"), history ? cw_history_get_redo_name(history) : NULL);
  g_signal_emit(window, shown_signal, 0);
}

static void show_page(CwWindow *window)
{
  int stage = cw_session_get_stage(window->session);
  gtk_stack_set_visible_child(GTK_STACK(window->pages), window->page[stage]);
  cw_settings_set_integer("stage", stage);
  g_signal_emit(window, shown_signal, 0);
}

static void follow_history(CwWindow *window)
{
  CwProject *project = cw_session_get_project(window->session);
  if (project)
    g_signal_connect_object(cw_project_get_history(project), "notify", G_CALLBACK(show_header), window,
                            G_CONNECT_SWAPPED);
}

void cw_window_show_project(CwWindow *window, CwProject *project)
{
  CwProject *old = cw_session_get_project(window->session);
  if (old)
    g_signal_handlers_disconnect_by_data(cw_project_get_history(old), window);
  cw_session_set_project(window->session, project);
  follow_history(window);
  gtk_stack_set_visible_child_name(GTK_STACK(window->front), project ? "job" : "start");
  gtk_widget_set_visible(window->findings_button, project != NULL);
  gtk_widget_set_visible(window->undo, project != NULL);
  gtk_widget_set_visible(window->redo, project != NULL);
  show_header(window);
  show_page(window);
  if (project && cw_project_get_read_only_reason(project))
    cw_session_tell(window->session, CW_TOLD_ATTEND, _("You can look but not change: %s."),
                    cw_project_get_read_only_reason(project));
  if (project && cw_project_get_migration_copy(project))
    cw_session_tell(window->session, CW_TOLD_ATTEND,
                    _("The file was brought to this version; it is kept as it was in %s."),
                    cw_project_get_migration_copy(project));
}

static GtkWidget *new_tool(const char *icon, const char *action, const char *name)
{
  GtkWidget *button = gtk_button_new_from_icon_name(icon);
  gtk_actionable_set_action_name(GTK_ACTIONABLE(button), action);
  cw_set_name(button, name);
  return button;
}

static GtkWidget *new_title(CwWindow *window)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0);
  window->title = gtk_label_new(NULL);
  window->subtitle = gtk_label_new(NULL);
  gtk_widget_add_css_class(window->title, "title");
  gtk_widget_add_css_class(window->subtitle, "subtitle");
  gtk_label_set_ellipsize(GTK_LABEL(window->subtitle), PANGO_ELLIPSIZE_END);
  gtk_widget_set_valign(box, GTK_ALIGN_CENTER);
  gtk_box_append(GTK_BOX(box), window->title);
  gtk_box_append(GTK_BOX(box), window->subtitle);
  return box;
}

static GtkWidget *new_header(CwWindow *window, GMenuModel *model)
{
  GtkWidget *bar = gtk_header_bar_new(), *menu = gtk_menu_button_new();
  window->undo = new_tool("edit-undo-symbolic", "win.undo", _("Undo"));
  window->redo = new_tool("edit-redo-symbolic", "win.redo", _("Redo"));
  window->findings_button = gtk_button_new_with_label("");
  gtk_actionable_set_action_name(GTK_ACTIONABLE(window->findings_button), "win.findings");
  gtk_widget_set_tooltip_text(window->findings_button, _("Show or hide the findings (F9)"));
  gtk_menu_button_set_icon_name(GTK_MENU_BUTTON(menu), "open-menu-symbolic");
  gtk_menu_button_set_menu_model(GTK_MENU_BUTTON(menu), model);
  gtk_menu_button_set_primary(GTK_MENU_BUTTON(menu), TRUE);
  gtk_widget_set_tooltip_text(menu, _("Menu (F10)"));
  cw_set_name(menu, _("Menu"));
  gtk_header_bar_pack_start(GTK_HEADER_BAR(bar), window->undo);
  gtk_header_bar_pack_start(GTK_HEADER_BAR(bar), window->redo);
  gtk_header_bar_set_title_widget(GTK_HEADER_BAR(bar), new_title(window));
  gtk_header_bar_pack_end(GTK_HEADER_BAR(bar), menu);
  gtk_header_bar_pack_end(GTK_HEADER_BAR(bar), window->findings_button);
  return bar;
}

static GtkWidget *new_job(CwWindow *window)
{
  GtkWidget *job = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0),
            *middle = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 0);
  GtkWidget *pages = gtk_overlay_new();
  window->route = cw_route_new(window->session);
  window->pages = gtk_stack_new();
  gtk_widget_set_hexpand(window->pages, TRUE);
  gtk_stack_set_hhomogeneous(GTK_STACK(window->pages), FALSE);
  gtk_stack_set_vhomogeneous(GTK_STACK(window->pages), FALSE);
  for (int stage = 0; stage < CW_ROUTE_STAGE_COUNT; stage++) {
    window->page[stage] = cw_stage_page_new(stage, window->session, window->desk);
    gtk_stack_add_named(GTK_STACK(window->pages), window->page[stage], cw_stages[stage].word);
  }
  window->findings = gtk_revealer_new();
  gtk_revealer_set_transition_type(GTK_REVEALER(window->findings), GTK_REVEALER_TRANSITION_TYPE_SLIDE_LEFT);
  gtk_revealer_set_child(GTK_REVEALER(window->findings), cw_findings_pane_new(window->session));
  cw_follow_mapped(gtk_revealer_get_child(GTK_REVEALER(window->findings)));
  /* over the page, so that no page has to be so narrow that both fit */
  gtk_widget_set_halign(window->findings, GTK_ALIGN_END);
  gtk_overlay_set_child(GTK_OVERLAY(pages), window->pages);
  gtk_overlay_add_overlay(GTK_OVERLAY(pages), window->findings);
  cw_follow_mapped(job);
  gtk_widget_set_vexpand(middle, TRUE);
  gtk_box_append(GTK_BOX(middle), window->route);
  gtk_box_append(GTK_BOX(middle), gtk_separator_new(GTK_ORIENTATION_VERTICAL));
  gtk_box_append(GTK_BOX(middle), pages);
  gtk_box_append(GTK_BOX(job), middle);
  gtk_box_append(GTK_BOX(job), gtk_separator_new(GTK_ORIENTATION_HORIZONTAL));
  gtk_box_append(GTK_BOX(job), cw_sound_strip_new(window->session, window->desk));
  return job;
}

static void build(CwWindow *window, GMenuModel *menu)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0);
  gtk_window_set_titlebar(GTK_WINDOW(window), new_header(window, menu));
  window->front = gtk_stack_new();
  gtk_widget_set_vexpand(window->front, TRUE);
  gtk_stack_add_named(GTK_STACK(window->front), cw_start_page_new(), "start");
  gtk_stack_add_named(GTK_STACK(window->front), new_job(window), "job");
  gtk_box_append(GTK_BOX(box), cw_notice_bar_new(window->session));
  gtk_box_append(GTK_BOX(box), window->front);
  gtk_window_set_child(GTK_WINDOW(window), box);
}

static void remember_size(CwWindow *window)
{
  int width, height;
  gtk_window_get_default_size(GTK_WINDOW(window), &width, &height);
  cw_settings_set_boolean("maximized", gtk_window_is_maximized(GTK_WINDOW(window)));
  if (gtk_window_is_maximized(GTK_WINDOW(window)) || width <= 0 || height <= 0)
    return;
  cw_settings_set_integer("width", width);
  cw_settings_set_integer("height", height);
}

static void recall(CwWindow *window)
{
  gtk_window_set_default_size(GTK_WINDOW(window), cw_settings_get_integer("width", 1280),
                              cw_settings_get_integer("height", 740));
  if (cw_settings_get_boolean("maximized", FALSE))
    gtk_window_maximize(GTK_WINDOW(window));
  cw_session_set_stage(window->session,
                       CLAMP(cw_settings_get_integer("stage", 0), 0, CW_ROUTE_STAGE_COUNT - 1));
  gtk_revealer_set_reveal_child(GTK_REVEALER(window->findings),
                                cw_settings_get_boolean("findings-shown", FALSE));
}

static gboolean window_close_request(GtkWindow *gtk_window)
{
  CwWindow *window = CW_WINDOW(gtk_window);
  remember_size(window);
  cw_sound_desk_stop(window->desk);
  return GTK_WINDOW_CLASS(cw_window_parent_class)->close_request(gtk_window);
}

static void window_dispose(GObject *object)
{
  CwWindow *window = CW_WINDOW(object);
  if (window->session)
    g_signal_handlers_disconnect_by_data(window->session, window);
  G_OBJECT_CLASS(cw_window_parent_class)->dispose(object);
}

static void window_finalize(GObject *object)
{
  CwWindow *window = CW_WINDOW(object);
  g_clear_object(&window->session);
  g_clear_object(&window->desk);
  G_OBJECT_CLASS(cw_window_parent_class)->finalize(object);
}

static void cw_window_class_init(CwWindowClass *klass)
{
  GTK_WINDOW_CLASS(klass)->close_request = window_close_request;
  G_OBJECT_CLASS(klass)->dispose = window_dispose;
  G_OBJECT_CLASS(klass)->finalize = window_finalize;
  shown_signal =
      g_signal_new("shown", CW_TYPE_WINDOW, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

static void cw_window_init(CwWindow *window)
{
}

static void tell_shown(CwWindow *window)
{
  g_signal_emit(window, shown_signal, 0);
}

CwWindow *cw_window_new(GtkApplication *application, CwSoundDesk *desk, GMenuModel *menu)
{
  CwWindow *window = g_object_new(CW_TYPE_WINDOW, "application", application, NULL);
  window->desk = g_object_ref(desk);
  window->session = cw_session_new(cw_sound_desk_get_client(desk));
  cw_session_serve(window->session, G_OBJECT(window));
  build(window, menu);
  g_signal_connect_swapped(window->session, "changed", G_CALLBACK(show_header), window);
  g_signal_connect_swapped(window->session, "selection-changed", G_CALLBACK(show_page), window);
  g_signal_connect_object(desk, "changed", G_CALLBACK(tell_shown), window, G_CONNECT_SWAPPED);
  g_signal_connect_object(cw_sound_desk_get_client(desk), "state-changed", G_CALLBACK(tell_shown), window,
                          G_CONNECT_SWAPPED);
  recall(window);
  cw_window_show_project(window, NULL);
  return window;
}
