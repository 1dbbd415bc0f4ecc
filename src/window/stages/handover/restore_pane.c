/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/handover/restore_pane.h"

#include "job/handover/compare.h"
#include "window/state/words.h"
#include "window/widgets/page.h"
#include "window/widgets/questions.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define LINES_MOST 60

typedef struct {
  CwSession *session;
  GtkWidget *box, *list, *lines;
  char *compared; /* the point whose differences are shown, or NULL */
} Pane;

static void append_output(GString *text, const CwOutputChange *output)
{
  g_string_append_printf(text, _("%d %s, measured again: "), (int)output->output, output->name);
  if (output->refused)
    g_string_append_printf(text, _("silent at %u places"), output->refused);
  else
    g_string_append_printf(text, _("level %+.1f dB, arrival %+.2f ms, most at %.0f Hz by %+.1f dB%s"),
                           output->level_db, output->arrival_ms, output->band_hz, output->band_db,
                           output->swapped ? _(", polarity swapped") : "");
  if (isfinite(output->rattle_hz))
    g_string_append_printf(text, _(", rattles now at %.0f Hz"), output->rattle_hz);
  g_string_append_c(text, '\n');
}

static void append_change(GString *text, const CwChange *change)
{
  if (change->kind == CW_CHANGE_ADDED)
    g_string_append_printf(text, _("%s: new"), change->what);
  else if (change->kind == CW_CHANGE_GONE)
    g_string_append_printf(text, _("%s: gone"), change->what);
  else
    g_string_append_printf(text, "%s: %s → %s", change->what, change->said_before, change->said_after);
  g_string_append_c(text, '\n');
}

static void show_comparison(Pane *pane, const CwComparison *comparison)
{
  g_autoptr(GString) text = g_string_new(NULL);
  gboolean any = comparison->changes->len || comparison->n_outputs;
  g_string_append_printf(text, any ? _("Since “%s”:\n") : _("Nothing changed since “%s”."),
                         comparison->since);
  for (guint i = 0; i < comparison->n_outputs; i++)
    append_output(text, &comparison->outputs[i]);
  for (guint i = 0; i < comparison->changes->len && i < LINES_MOST; i++)
    append_change(text, g_ptr_array_index(comparison->changes, i));
  if (comparison->changes->len > LINES_MOST)
    g_string_append_printf(text, _("and %u more"), comparison->changes->len - LINES_MOST);
  gtk_label_set_text(GTK_LABEL(pane->lines), text->str);
}

/* Shows what changed since a point; with `find`, what the takes say of it becomes findings. */
static void compare(Pane *pane, const char *name, gboolean find)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwComparison) comparison = cw_job_compare(cw_session_get_project(pane->session), name, &error);
  if (!comparison) {
    gtk_label_set_text(GTK_LABEL(pane->lines), error->message);
    return;
  }
  show_comparison(pane, comparison);
  if (!find)
    return;
  g_autofree char *what = g_strdup_printf(_("Compare with %s"), name);
  cw_comparison_find(comparison, cw_session_get_vehicle(pane->session));
  cw_session_commit(pane->session, what);
}

static void on_compare(GtkButton *button, Pane *pane)
{
  g_free(pane->compared);
  pane->compared = g_strdup(g_object_get_data(G_OBJECT(button), "name"));
  compare(pane, pane->compared, TRUE);
}

typedef struct {
  CwSession *session;
  char *name;
} Return;

static void go_back(gpointer data)
{
  Return *way = data;
  g_autoptr(GError) error = NULL;
  if (cw_project_go_to_restore_point(cw_session_get_project(way->session), way->name, &error))
    cw_session_tell(way->session, CW_TOLD_DONE, _("The vehicle is as it was at “%s”. Undo brings it back."),
                    way->name);
  else
    cw_session_tell(way->session, CW_TOLD_FAILED, _("Not gone back: %s. The vehicle is as it was."),
                    error->message);
}

static void return_free(gpointer data)
{
  g_free(((Return *)data)->name);
  g_free(data);
}

static void on_go_back(GtkButton *button, Pane *pane)
{
  const char *name = g_object_get_data(G_OBJECT(button), "name");
  Return *way = g_new0(Return, 1);
  *way = (Return){pane->session, g_strdup(name)};
  g_object_set_data_full(G_OBJECT(pane->box), "return", way, return_free);
  g_autofree char *question = g_strdup_printf(_("Go back to “%s”?"), name);
  cw_ask_consent(pane->box, question,
                 _("The vehicle becomes what it was then. Undo brings the present back."), _("_Go back"),
                 go_back, way);
}

static GtkWidget *new_button(Pane *pane, const char *label, const char *name, GCallback clicked)
{
  GtkWidget *button = gtk_button_new_with_label(label);
  g_object_set_data_full(G_OBJECT(button), "name", g_strdup(name), g_free);
  g_signal_connect(button, "clicked", clicked, pane);
  return button;
}

static GtkWidget *new_row(Pane *pane, const CwRestorePoint *point)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8),
            *words = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0);
  g_autofree char *made = cw_say_time(point->made_utc);
  gtk_widget_set_hexpand(words, TRUE);
  gtk_box_append(GTK_BOX(words), cw_text(point->name));
  gtk_box_append(GTK_BOX(words), cw_dim_text(made));
  gtk_box_append(GTK_BOX(row), words);
  gtk_box_append(GTK_BOX(row), new_button(pane, _("Compare"), point->name, G_CALLBACK(on_compare)));
  gtk_box_append(GTK_BOX(row), new_button(pane, _("Go back"), point->name, G_CALLBACK(on_go_back)));
  return row;
}

/* Reads the points again; an open comparison follows the vehicle. */
void cw_restore_pane_refresh(GtkWidget *widget)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");
  CwProject *project = cw_session_get_project(pane->session);
  g_autoptr(GError) error = NULL;
  if (!project)
    return;
  for (GtkWidget *child; (child = gtk_widget_get_first_child(pane->list));)
    gtk_box_remove(GTK_BOX(pane->list), child);
  g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, &error);
  gboolean still_there = FALSE;
  for (guint i = points ? points->len : 0; i-- > 0;) {
    const CwRestorePoint *point = g_ptr_array_index(points, i);
    gtk_box_append(GTK_BOX(pane->list), new_row(pane, point));
    still_there |= g_strcmp0(point->name, pane->compared) == 0;
  }
  if (!points || !points->len)
    gtk_box_append(GTK_BOX(pane->list),
                   cw_dim_text(points ? _("None yet. Ctrl+S names one.") : error->message));
  if (still_there)
    compare(pane, pane->compared, FALSE);
  else
    gtk_label_set_text(GTK_LABEL(pane->lines), NULL);
}

static void pane_free(gpointer data)
{
  g_free(((Pane *)data)->compared);
  g_free(data);
}

GtkWidget *cw_restore_pane_new(CwSession *session)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *scrolled = gtk_scrolled_window_new(), *inner = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  pane->session = session;
  pane->box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  pane->list = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
  pane->lines = cw_text(NULL);
  gtk_label_set_selectable(GTK_LABEL(pane->lines), TRUE);
  gtk_box_append(GTK_BOX(inner), pane->list);
  gtk_box_append(GTK_BOX(inner), pane->lines);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), inner);
  gtk_widget_set_vexpand(scrolled, TRUE);
  GtkWidget *name = gtk_button_new_with_label(_("Name a restore point"));
  gtk_actionable_set_action_name(GTK_ACTIONABLE(name), "win.restore-point");
  gtk_widget_set_halign(name, GTK_ALIGN_START);
  gtk_widget_add_css_class(pane->box, "restore");
  gtk_box_append(GTK_BOX(pane->box), cw_heading(_("Restore points")));
  gtk_box_append(GTK_BOX(pane->box), name);
  gtk_box_append(GTK_BOX(pane->box), scrolled);
  g_object_set_data_full(G_OBJECT(pane->box), "pane", pane, pane_free);
  return pane->box;
}
