/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/comparison_choice.h"

#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

enum { NOTHING, NO_SETTINGS, FIRST_POINT };

typedef struct {
  CwSession *session;
  void (*chosen)(gpointer data);
  gpointer data;
  GtkWidget *drop_down;
  CwProject *project; /* whose points are listed */
  GStrv points;
  guint selected;
  CwRecord *vehicle; /* as it was at the chosen point */
  gboolean filling;
} Choice;

static Choice *choice_of(GtkWidget *widget)
{
  return g_object_get_data(G_OBJECT(widget), "choice");
}

static void choice_free(gpointer data)
{
  Choice *choice = data;
  g_clear_object(&choice->vehicle);
  g_clear_object(&choice->project);
  g_strfreev(choice->points);
  g_free(choice);
}

gboolean cw_before_choice_is_on(GtkWidget *widget)
{
  return choice_of(widget)->selected != NOTHING;
}

CwRecord *cw_before_choice_get_tune(GtkWidget *widget)
{
  Choice *choice = choice_of(widget);
  return choice->vehicle ? cw_vehicle_get_tune(choice->vehicle) : NULL;
}

static void on_selected(Choice *choice)
{
  guint selected = gtk_drop_down_get_selected(GTK_DROP_DOWN(choice->drop_down));
  g_autoptr(GError) error = NULL;
  if (choice->filling || selected == choice->selected || selected == GTK_INVALID_LIST_POSITION)
    return;
  choice->selected = selected;
  g_clear_object(&choice->vehicle);
  if (selected >= FIRST_POINT) {
    const char *name = choice->points[selected - FIRST_POINT];
    choice->vehicle = cw_project_read_restore_point(cw_session_get_project(choice->session), name, &error);
    if (!choice->vehicle)
      cw_session_tell(choice->session, CW_TOLD_FAILED, _("“%s” could not be read: %s. Nothing was changed."),
                      name, error->message);
  }
  choice->chosen(choice->data);
}

static GStrv list_points(CwProject *project)
{
  g_autoptr(GStrvBuilder) names = g_strv_builder_new();
  g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, NULL);
  for (guint i = points ? points->len : 0; i-- > 0;)
    g_strv_builder_add(names, ((const CwRestorePoint *)g_ptr_array_index(points, i))->name);
  return g_strv_builder_end(names);
}

/* Fills the list; what was chosen by name stays chosen. */
static void fill(Choice *choice, GStrv points, const char *chosen)
{
  g_autoptr(GtkStringList) words =
      gtk_string_list_new((const char *const[]){_("Nothing"), _("The car without settings"), NULL});
  choice->selected = choice->selected >= FIRST_POINT ? NOTHING : choice->selected;
  for (guint i = 0; points[i]; i++) {
    g_autofree char *text = g_strdup_printf(_("“%s”"), points[i]);
    gtk_string_list_append(words, text);
    if (g_strcmp0(points[i], chosen) == 0)
      choice->selected = FIRST_POINT + i;
  }
  choice->filling = TRUE;
  gtk_drop_down_set_model(GTK_DROP_DOWN(choice->drop_down), G_LIST_MODEL(words));
  gtk_drop_down_set_selected(GTK_DROP_DOWN(choice->drop_down), choice->selected);
  choice->filling = FALSE;
}

void cw_before_choice_refresh(GtkWidget *widget)
{
  Choice *choice = choice_of(widget);
  CwProject *project = cw_session_get_project(choice->session);
  if (!project)
    return;
  g_auto(GStrv) points = list_points(project);
  gboolean same_project = project == choice->project;
  if (same_project && choice->points &&
      g_strv_equal((const char *const *)points, (const char *const *)choice->points))
    return;
  g_autofree char *chosen = same_project && choice->selected >= FIRST_POINT
                                ? g_strdup(choice->points[choice->selected - FIRST_POINT])
                                : NULL;
  g_set_object(&choice->project, project);
  fill(choice, points, chosen);
  if (choice->selected < FIRST_POINT)
    g_clear_object(&choice->vehicle);
  g_strfreev(choice->points);
  choice->points = g_steal_pointer(&points);
}

GtkWidget *cw_before_choice_new(CwSession *session, void (*chosen)(gpointer data), gpointer data)
{
  Choice *choice = g_new0(Choice, 1);
  *choice = (Choice){
      .session = session, .chosen = chosen, .data = data, .drop_down = gtk_drop_down_new(NULL, NULL)};
  cw_set_name(choice->drop_down, _("Compare with"));
  gtk_widget_set_tooltip_text(choice->drop_down,
                              _("Drawn in grey: the car without settings, or as it was at a restore point"));
  g_object_set_data_full(G_OBJECT(choice->drop_down), "choice", choice, choice_free);
  g_signal_connect_swapped(choice->drop_down, "notify::selected", G_CALLBACK(on_selected), choice);
  return choice->drop_down;
}
