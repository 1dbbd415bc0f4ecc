/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/actions.h"

#include "window/shell/dialogs.h"

#include <glib/gi18n-lib.h>

#define NO_TARGET (-1)

typedef struct {
  const char *name; /* "win.undo"; several rows may share one that takes a target */
  int target;
  const char *keys[3];
  const char *group;
  const char *title;
  void (*activate)(CwWindow *window, int target); /* window NULL for actions of the application without one */
  gboolean (*can)(CwWindow *window);
} Row;

static gboolean has_project(CwWindow *window)
{
  return cw_session_get_project(cw_window_get_session(window)) != NULL;
}

static CwHistory *history_of(CwWindow *window)
{
  CwProject *project = cw_session_get_project(cw_window_get_session(window));
  return project ? cw_project_get_history(project) : NULL;
}

static gboolean can_undo(CwWindow *window)
{
  return has_project(window) && cw_history_can_undo(history_of(window));
}

static gboolean can_redo(CwWindow *window)
{
  return has_project(window) && cw_history_can_redo(history_of(window));
}

static gboolean can_change(CwWindow *window)
{
  return has_project(window) &&
         !cw_project_get_read_only_reason(cw_session_get_project(cw_window_get_session(window)));
}

static gboolean can_stop(CwWindow *window)
{
  CwSoundDesk *desk = cw_window_get_desk(window);
  CwSoundState state = cw_sound_client_get_state(cw_sound_desk_get_client(desk));
  return cw_session_get_work(cw_window_get_session(window)) || cw_sound_desk_get_playing(desk) ||
         cw_sound_desk_get_ear(desk) || state == CW_SOUND_LOADING || state == CW_SOUND_PLAYING;
}

static void undo(CwWindow *window, int target)
{
  cw_session_undo(cw_window_get_session(window));
}

static void redo(CwWindow *window, int target)
{
  cw_session_redo(cw_window_get_session(window));
}

static void restore_point(CwWindow *window, int target)
{
  cw_dialogs_name_restore_point(window);
}

static void stop(CwWindow *window, int target)
{
  GCancellable *work = cw_session_get_work(cw_window_get_session(window));
  if (work)
    g_cancellable_cancel(work);
  cw_sound_desk_stop(cw_window_get_desk(window));
}

static void main_thing(CwWindow *window, int target)
{
  CwPage *page = cw_window_get_page(window);
  if (!page || !cw_page_do_main(page))
    gtk_widget_error_bell(GTK_WIDGET(window));
}

static void findings(CwWindow *window, int target)
{
  cw_window_set_findings_shown(window, !cw_window_get_findings_shown(window));
}

static void go_to_stage(CwWindow *window, int target)
{
  cw_session_set_stage(cw_window_get_session(window), target);
}

static void next_stage(CwWindow *window, int target)
{
  int stage = cw_session_get_stage(cw_window_get_session(window));
  cw_session_set_stage(cw_window_get_session(window), MIN(stage + 1, CW_ROUTE_STAGE_COUNT - 1));
}

static void previous_stage(CwWindow *window, int target)
{
  int stage = cw_session_get_stage(cw_window_get_session(window));
  cw_session_set_stage(cw_window_get_session(window), MAX(stage - 1, 0));
}

static void close_window(CwWindow *window, int target)
{
  gtk_window_close(GTK_WINDOW(window));
}

static void help(CwWindow *window, int target)
{
  cw_dialogs_show_help(window);
}

static void shortcuts(CwWindow *window, int target)
{
  GtkWidget *shown = cw_actions_new_shortcuts_window();
  gtk_window_set_transient_for(GTK_WINDOW(shown), GTK_WINDOW(window));
  gtk_window_present(GTK_WINDOW(shown));
}

static void new_vehicle(CwWindow *window, int target)
{
  cw_dialogs_new_vehicle(window);
}

static void new_from_sheet(CwWindow *window, int target)
{
  cw_dialogs_new_from_sheet(window);
}

static void open_vehicle(CwWindow *window, int target)
{
  cw_dialogs_open(window);
}

static void about(CwWindow *window, int target)
{
  cw_dialogs_show_about(window);
}

static void practice_afresh(CwWindow *window, int target)
{
  cw_dialogs_practice_afresh(window);
}

/* clang-format off */
static const Row rows[] = {
  {"win.stop", NO_TARGET, {"Escape"}, N_("Sound"), N_("Silence at once, and cancel the work that is on"), stop, can_stop},
  {"win.main-thing", NO_TARGET, {"<Control>Return", "<Control>KP_Enter"}, N_("Sound"), N_("Do the page's main thing"), main_thing, has_project},
  {"win.undo", NO_TARGET, {"<Control>z"}, N_("Vehicle"), N_("Undo"), undo, can_undo},
  {"win.redo", NO_TARGET, {"<Shift><Control>z"}, N_("Vehicle"), N_("Redo"), redo, can_redo},
  {"win.restore-point", NO_TARGET, {"<Control>s"}, N_("Vehicle"), N_("Name a restore point"), restore_point, can_change},
  {"win.findings", NO_TARGET, {"F9"}, N_("Vehicle"), N_("Show or hide the findings"), findings, has_project},
  {"win.new", NO_TARGET, {"<Control>n"}, N_("Vehicle"), N_("New vehicle"), new_vehicle, NULL},
  {"win.new-from-sheet", NO_TARGET, {"<Shift><Control>n"}, N_("Vehicle"), N_("New vehicle from an intake sheet"), new_from_sheet, NULL},
  {"win.open", NO_TARGET, {"<Control>o"}, N_("Vehicle"), N_("Open a vehicle"), open_vehicle, NULL},
  {"win.practice-afresh", NO_TARGET, {NULL}, NULL, N_("Begin the practice afresh"), practice_afresh, NULL},
  {"win.stage", 0, {"<Control>1"}, N_("Route"), N_("Vehicle sheet"), go_to_stage, has_project},
  {"win.stage", 1, {"<Control>2"}, N_("Route"), N_("Supply and wiring"), go_to_stage, has_project},
  {"win.stage", 2, {"<Control>3"}, N_("Route"), N_("Factory signal"), go_to_stage, has_project},
  {"win.stage", 3, {"<Control>4"}, N_("Route"), N_("Channel map"), go_to_stage, has_project},
  {"win.stage", 4, {"<Control>5"}, N_("Route"), N_("Levels"), go_to_stage, has_project},
  {"win.stage", 5, {"<Control>6"}, N_("Route"), N_("Measuring"), go_to_stage, has_project},
  {"win.stage", 6, {"<Control>7"}, N_("Route"), N_("Tuning"), go_to_stage, has_project},
  {"win.stage", 7, {"<Control>8"}, N_("Route"), N_("Proof"), go_to_stage, has_project},
  {"win.stage", 8, {"<Control>9"}, N_("Route"), N_("Hand-over"), go_to_stage, has_project},
  {"win.next-stage", NO_TARGET, {"<Control>Page_Down"}, N_("Route"), N_("Next stage"), next_stage, has_project},
  {"win.previous-stage", NO_TARGET, {"<Control>Page_Up"}, N_("Route"), N_("Stage before"), previous_stage, has_project},
  {"win.help", NO_TARGET, {"F1"}, N_("Window"), N_("Help for this page"), help, NULL},
  {"win.shortcuts", NO_TARGET, {"<Control>question", "<Control>slash"}, N_("Window"), N_("Keys"), shortcuts, NULL},
  {"win.close", NO_TARGET, {"<Control>w"}, N_("Window"), N_("Close the window"), close_window, NULL},
  {"win.about", NO_TARGET, {NULL}, NULL, N_("About Cabinwright"), about, NULL},
};
/* clang-format on */

static const char *bare_name(const Row *row)
{
  return strchr(row->name, '.') + 1;
}

static void on_activate(GSimpleAction *action, GVariant *parameter, gpointer window)
{
  const char *name = g_action_get_name(G_ACTION(action));
  for (guint i = 0; i < G_N_ELEMENTS(rows); i++)
    if (g_str_equal(bare_name(&rows[i]), name)) {
      rows[i].activate(window, parameter ? g_variant_get_int32(parameter) : NO_TARGET);
      return;
    }
}

/* What can be done now, and what cannot: recomputed for every action in this one place. */
static void update(CwWindow *window)
{
  for (guint i = 0; i < G_N_ELEMENTS(rows); i++) {
    GAction *action = g_action_map_lookup_action(G_ACTION_MAP(window), bare_name(&rows[i]));
    g_simple_action_set_enabled(G_SIMPLE_ACTION(action), !rows[i].can || rows[i].can(window));
  }
}

void cw_actions_install_in_window(CwWindow *window)
{
  for (guint i = 0; i < G_N_ELEMENTS(rows); i++) {
    const GVariantType *type = rows[i].target == NO_TARGET ? NULL : G_VARIANT_TYPE_INT32;
    g_autoptr(GSimpleAction) action = g_simple_action_new(bare_name(&rows[i]), type);
    g_signal_connect(action, "activate", G_CALLBACK(on_activate), window);
    g_action_map_add_action(G_ACTION_MAP(window), G_ACTION(action));
  }
  g_signal_connect(window, "shown", G_CALLBACK(update), NULL);
  update(window);
}

/* The keys of all actions. */
void cw_actions_set_keys(GtkApplication *application)
{
  for (guint i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *name = rows[i].target == NO_TARGET
                                ? g_strdup(rows[i].name)
                                : g_strdup_printf("%s(%d)", rows[i].name, rows[i].target);
    gtk_application_set_accels_for_action(application, name, rows[i].keys);
  }
  gtk_application_set_accels_for_action(application, "app.quit", (const char *const[]){"<Control>q", NULL});
}

static void add_shortcut(GString *ui, const char *keys, const char *title)
{
  g_autofree char *escaped_keys = g_markup_escape_text(keys, -1),
                  *escaped_title = g_markup_escape_text(title, -1);
  g_string_append_printf(
      ui,
      "<child><object class='GtkShortcutsShortcut'><property name='accelerator'>%s</property>"
      "<property name='title'>%s</property></object></child>",
      escaped_keys, escaped_title);
}

static void begin_group(GString *ui, const char *title)
{
  g_autofree char *escaped = g_markup_escape_text(title, -1);
  g_string_append_printf(ui, "<child><object class='GtkShortcutsGroup'><property name='title'>%s</property>",
                         escaped);
}

static void end_group(GString *ui)
{
  g_string_append(ui, "</object></child>");
}

/* What keys do where no action is behind them. */
static void add_drawing_group(GString *ui)
{
  begin_group(ui, _("Plots and handles"));
  add_shortcut(ui, "Left Right", _("Move the readout, or the chosen handle's frequency"));
  add_shortcut(ui, "Up Down", _("The chosen handle's gain"));
  add_shortcut(ui, "<Shift>Up <Shift>Down", _("The chosen handle's Q"));
  add_shortcut(ui, "plus minus", _("Zoom in and out"));
  add_shortcut(ui, "0", _("Show the whole plot"));
  add_shortcut(ui, "<Control>c", _("Copy the plot as a picture"));
  end_group(ui);
}

/* The window of keys, made from the table. GTK 4.8 takes its parts from a description alone, not one by one.
 */
GtkWidget *cw_actions_new_shortcuts_window(void)
{
  const char *group = NULL;
  g_autoptr(GString) ui = g_string_new(
      "<interface><object class='GtkShortcutsWindow' id='keys'><property name='modal'>1</property>"
      "<child><object class='GtkShortcutsSection'><property name='max-height'>12</property>");
  for (guint i = 0; i < G_N_ELEMENTS(rows); i++) {
    if (!rows[i].group)
      continue;
    if (g_strcmp0(group, rows[i].group) != 0) {
      if (group)
        end_group(ui);
      group = rows[i].group;
      begin_group(ui, _(group));
    }
    add_shortcut(ui, rows[i].keys[0], _(rows[i].title));
  }
  end_group(ui);
  add_drawing_group(ui);
  g_string_append(ui, "</object></child></object></interface>");
  g_autoptr(GtkBuilder) builder = gtk_builder_new_from_string(ui->str, (gssize)ui->len);
  return GTK_WIDGET(gtk_builder_get_object(builder, "keys"));
}

static void append_item(GMenu *menu, const char *name)
{
  for (guint i = 0; i < G_N_ELEMENTS(rows); i++)
    if (g_str_equal(rows[i].name, name)) {
      g_menu_append(menu, _(rows[i].title), name);
      return;
    }
}

/* The main menu; the caller's. */
GMenuModel *cw_actions_new_menu(void)
{
  static const char *const sections[][6] = {
      {"win.new", "win.new-from-sheet", "win.open", NULL},
      {"win.restore-point", "win.findings", NULL},
      {"win.practice-afresh", NULL},
      {"win.help", "win.shortcuts", "win.about", NULL},
  };
  GMenu *menu = g_menu_new();
  for (guint s = 0; s < G_N_ELEMENTS(sections); s++) {
    g_autoptr(GMenu) section = g_menu_new();
    for (guint i = 0; sections[s][i]; i++)
      append_item(section, sections[s][i]);
    if (s == 2) {
      g_menu_prepend(section, _("Practice: Rowan Van"), "app.practice-car::rowan-van");
      g_menu_prepend(section, _("Practice: Alder Tourer"), "app.practice-car::alder-tourer");
    }
    if (s == 1)
      g_menu_append(section, _("Lengths in inches"), "app.inches");
    g_menu_append_section(menu, NULL, G_MENU_MODEL(section));
  }
  return G_MENU_MODEL(menu);
}
