/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/route.h"

#include "window/state/words.h"
#include "window/widgets/page.h"
#include "window/widgets/state_mark.h"
#include "window/widgets/tab_stop.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  GtkWidget *list;
  GtkWidget *mark[CW_ROUTE_STAGE_COUNT];
  GtkWidget *words[CW_ROUTE_STAGE_COUNT];
  char *shown[CW_ROUTE_STAGE_COUNT]; /* what stands there */
  int state[CW_ROUTE_STAGE_COUNT];
} Route;

static void route_free(gpointer data)
{
  Route *route = data;
  for (int stage = 0; stage < CW_ROUTE_STAGE_COUNT; stage++)
    g_free(route->shown[stage]);
  g_free(route);
}

/* The state of a stage as the vehicle has it, without making a record for it. */
static CwRecord *find_stage(CwRecord *vehicle, CwRouteStage stage)
{
  CwList *stages = cw_vehicle_get_stages(vehicle);
  for (guint i = 0; i < cw_list_get_length(stages); i++)
    if (cw_stage_get_stage(cw_list_get(stages, i)) == stage)
      return cw_list_get(stages, i);
  return NULL;
}

static void show_stage(Route *route, int stage, CwRecord *record)
{
  int state = record ? cw_stage_get_state(record) : CW_STAGE_UNTOUCHED;
  const char *missing = record ? cw_stage_get_missing(record) : NULL;
  const char *words = missing && *missing ? missing : record ? cw_stage_say_state(record) : _("Untouched");
  if (route->shown[stage] && route->state[stage] == state && g_str_equal(words, route->shown[stage]))
    return;
  g_free(route->shown[stage]);
  route->shown[stage] = g_strdup(words);
  route->state[stage] = state;
  GtkWidget *row = GTK_WIDGET(gtk_list_box_get_row_at_index(GTK_LIST_BOX(route->list), stage));
  g_autofree char *name = g_strdup_printf("%d %s: %s", stage + 1, cw_say_stage(stage), words);
  cw_state_mark_set_state(route->mark[stage], state);
  cw_show_text(route->words[stage], words);
  cw_set_name(row, name);
  gtk_widget_set_tooltip_text(row, words);
}

static void show_states(Route *route)
{
  CwRecord *vehicle = cw_session_get_vehicle(route->session);
  for (int stage = 0; vehicle && stage < CW_ROUTE_STAGE_COUNT; stage++)
    show_stage(route, stage, find_stage(vehicle, stage));
}

static void show_selected(Route *route)
{
  int stage = cw_session_get_stage(route->session);
  GtkListBoxRow *row = gtk_list_box_get_row_at_index(GTK_LIST_BOX(route->list), stage);
  if (gtk_list_box_get_selected_row(GTK_LIST_BOX(route->list)) != row)
    gtk_list_box_select_row(GTK_LIST_BOX(route->list), row);
  if (gtk_widget_get_focus_child(route->list))
    gtk_widget_grab_focus(GTK_WIDGET(row));
}

/* Moving the focus through the route does not open pages; a click, Enter or Space does. */
static void on_row_activated(Route *route, GtkListBoxRow *row)
{
  cw_session_set_stage(route->session, gtk_list_box_row_get_index(row));
}

static GtkWidget *new_row(Route *route, int stage)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 10),
            *text = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0);
  g_autofree char *title_text = g_strdup_printf("%d  %s", stage + 1, cw_say_stage(stage));
  GtkWidget *title = gtk_label_new(title_text);
  gtk_label_set_xalign(GTK_LABEL(title), 0);
  route->mark[stage] = cw_state_mark_new();
  route->words[stage] = gtk_label_new(NULL);
  gtk_label_set_xalign(GTK_LABEL(route->words[stage]), 0);
  gtk_label_set_ellipsize(GTK_LABEL(route->words[stage]), PANGO_ELLIPSIZE_END);
  gtk_label_set_max_width_chars(GTK_LABEL(route->words[stage]), 20);
  gtk_widget_add_css_class(route->words[stage], "dim-label");
  gtk_widget_add_css_class(route->words[stage], "caption");
  gtk_box_append(GTK_BOX(text), title);
  gtk_box_append(GTK_BOX(text), route->words[stage]);
  gtk_box_append(GTK_BOX(row), route->mark[stage]);
  gtk_box_append(GTK_BOX(row), text);
  return row;
}

GtkWidget *cw_route_new(CwSession *session)
{
  Route *route = g_new0(Route, 1);
  GtkWidget *scrolled = gtk_scrolled_window_new();
  route->session = session;
  route->list = gtk_list_box_new();
  cw_make_one_tab_stop(route->list);
  gtk_list_box_set_selection_mode(GTK_LIST_BOX(route->list), GTK_SELECTION_SINGLE);
  gtk_widget_add_css_class(route->list, "navigation-sidebar");
  gtk_widget_add_css_class(route->list, "route");
  cw_set_name(route->list, _("Route"));
  for (int stage = 0; stage < CW_ROUTE_STAGE_COUNT; stage++)
    gtk_list_box_append(GTK_LIST_BOX(route->list), new_row(route, stage));
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), route->list);
  gtk_widget_set_size_request(scrolled, 212, -1);
  g_object_set_data_full(G_OBJECT(scrolled), "route", route, route_free);
  GtkEventController *focus = gtk_event_controller_focus_new();
  g_signal_connect_swapped(focus, "leave", G_CALLBACK(show_selected),
                           route); /* the arrow keys marked another */
  gtk_widget_add_controller(route->list, focus);
  g_signal_connect_swapped(route->list, "row-activated", G_CALLBACK(on_row_activated), route);
  cw_connect_while_alive(session, "changed", G_CALLBACK(show_states), route, scrolled);
  cw_connect_while_alive(session, "selection-changed", G_CALLBACK(show_selected), route, scrolled);
  return scrolled;
}
