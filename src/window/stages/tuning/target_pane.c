/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/target_pane.h"

#include "job/sheet/calibration.h"
#include "window/state/target_points.h"
#include "window/widgets/page.h"
#include "window/widgets/questions.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  CwTargetHandles *handles;
  GtkWidget *pane, *rows, *add, *remove;
  guint count; /* of the rows */
  gboolean showing;
} Pane;

static const CwNumbers *target_of(Pane *pane)
{
  CwRecord *vehicle = cw_session_get_vehicle(pane->session);
  return vehicle ? cw_vehicle_get_target(vehicle) : NULL;
}

static GtkWidget *spin_at(Pane *pane, guint point, int column)
{
  return gtk_grid_get_child_at(GTK_GRID(pane->rows), column, (int)point + 1);
}

static void on_changed(GtkSpinButton *spin, Pane *pane)
{
  guint point = GPOINTER_TO_UINT(g_object_get_data(G_OBJECT(spin), "point"));
  const CwNumbers *target = target_of(pane);
  if (pane->showing || !target || point >= target->n_rows)
    return;
  g_autofree char *key = g_strdup_printf("target %u", point);
  cw_vehicle_take_target(cw_session_get_vehicle(pane->session),
                         cw_target_move(target, point,
                                        gtk_spin_button_get_value(GTK_SPIN_BUTTON(spin_at(pane, point, 1))),
                                        gtk_spin_button_get_value(GTK_SPIN_BUTTON(spin_at(pane, point, 2)))));
  cw_session_commit_merging(pane->session, _("Move a point of the target"), key);
}

static void add_spin(Pane *pane, guint point, int column, const char *name, double low, double high,
                     double step)
{
  GtkWidget *spin = gtk_spin_button_new_with_range(low, high, step);
  g_autofree char *words = g_strdup_printf(name, point + 1);
  gtk_spin_button_set_digits(GTK_SPIN_BUTTON(spin), 1);
  gtk_editable_set_width_chars(GTK_EDITABLE(spin), 8);
  cw_set_name(spin, words);
  cw_read_from_left(spin);
  g_object_set_data(G_OBJECT(spin), "point", GUINT_TO_POINTER(point));
  g_signal_connect(spin, "value-changed", G_CALLBACK(on_changed), pane);
  gtk_grid_attach(GTK_GRID(pane->rows), spin, column, (int)point + 1, 1, 1);
}

/* As many rows as points. */
static void build(Pane *pane, guint count)
{
  for (; pane->count > count; pane->count--)
    gtk_grid_remove_row(GTK_GRID(pane->rows), (int)pane->count);
  for (; pane->count < count; pane->count++) {
    g_autofree char *number = g_strdup_printf("%u", pane->count + 1);
    gtk_grid_attach(GTK_GRID(pane->rows), cw_dim_text(number), 0, (int)pane->count + 1, 1, 1);
    add_spin(pane, pane->count, 1, _("Frequency of point %u"), CW_TARGET_LOWEST_HZ, CW_TARGET_HIGHEST_HZ, 10);
    add_spin(pane, pane->count, 2, _("Level of point %u"), -CW_TARGET_MOST_DB, CW_TARGET_MOST_DB, 0.5);
  }
}

static void show_spin(GtkWidget *spin, double value)
{
  if (gtk_spin_button_get_value(GTK_SPIN_BUTTON(spin)) != value)
    gtk_spin_button_set_value(GTK_SPIN_BUTTON(spin), value);
}

void cw_target_pane_refresh(GtkWidget *widget)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");
  const CwNumbers *target = target_of(pane);
  guint count = target ? target->n_rows : 0;
  pane->showing = TRUE;
  build(pane, count);
  for (guint i = 0; i < count; i++) {
    show_spin(spin_at(pane, i, 1), cw_numbers_at(target, i, 0));
    show_spin(spin_at(pane, i, 2), cw_numbers_at(target, i, 1));
  }
  pane->showing = FALSE;
  gtk_widget_set_sensitive(pane->remove, cw_target_handles_can_remove(pane->handles));
}

static void on_chosen(GtkWidget *widget)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");
  gtk_widget_set_sensitive(pane->remove, cw_target_handles_can_remove(pane->handles));
}

static void on_file(const char *path, gpointer data)
{
  Pane *pane = g_object_get_data(G_OBJECT(data), "pane");
  CwRecord *vehicle = cw_session_get_vehicle(pane->session);
  g_autoptr(GError) error = NULL;
  CwNumbers *target = vehicle ? cw_calibration_read(path, &error) : NULL;
  if (!target) {
    if (error)
      cw_session_tell(pane->session, CW_TOLD_FAILED, _("The target was not read: %s. It is as it was."),
                      error->message);
    return;
  }
  guint points = target->n_rows;
  cw_vehicle_take_target(vehicle, target);
  if (cw_session_commit(pane->session, _("Load the target")))
    cw_session_tell(pane->session, CW_TOLD_DONE, _("Target of %u points. Undo brings the one before back."),
                    points);
}

static void on_load(Pane *pane)
{
  cw_ask_path(pane->pane, GTK_FILE_CHOOSER_ACTION_OPEN, _("The target: a line a point, Hz and dB"), NULL,
              _("Tables of Hz and dB"), "*.csv", on_file, g_object_ref(pane->pane), g_object_unref);
}

static GtkWidget *add_button(GtkWidget *box, const char *label, const char *tip, GCallback clicked,
                             gpointer data)
{
  GtkWidget *button = gtk_button_new_with_label(label);
  gtk_widget_set_tooltip_text(button, tip);
  g_signal_connect_swapped(button, "clicked", clicked, data);
  gtk_box_append(GTK_BOX(box), button);
  return button;
}

GtkWidget *cw_target_pane_new(CwSession *session, CwTargetHandles *handles)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8), *scrolled = gtk_scrolled_window_new(),
            *buttons = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  *pane = (Pane){.session = session, .handles = handles, .pane = box, .rows = gtk_grid_new()};
  gtk_grid_set_row_spacing(GTK_GRID(pane->rows), 4);
  gtk_grid_set_column_spacing(GTK_GRID(pane->rows), 10);
  gtk_grid_attach(GTK_GRID(pane->rows), cw_dim_text(_("Frequency, Hz")), 1, 0, 1, 1);
  gtk_grid_attach(GTK_GRID(pane->rows), cw_dim_text(_("Level, dB")), 2, 0, 1, 1);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), pane->rows);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_widget_set_vexpand(scrolled, TRUE);
  pane->add = add_button(buttons, _("Add a point"), _("Or double-click the upper plot"),
                         G_CALLBACK(cw_target_handles_add), handles);
  pane->remove = add_button(buttons, _("Remove the point"),
                            _("The one that is chosen on the plot; Delete does the same"),
                            G_CALLBACK(cw_target_handles_remove), handles);
  add_button(buttons, _("Load from a file"),
             _("Text or CSV: a line a point, frequency in Hz and level in dB"), G_CALLBACK(on_load), pane);
  gtk_box_append(
      GTK_BOX(box),
      cw_dim_text(_("Drag the points on the upper plot. Propose a tune again to follow another target.")));
  gtk_box_append(GTK_BOX(box), scrolled);
  gtk_box_append(GTK_BOX(box), buttons);
  g_object_set_data_full(G_OBJECT(box), "pane", pane, g_free);
  g_signal_connect_object(handles, "chosen", G_CALLBACK(on_chosen), box, G_CONNECT_SWAPPED);
  return box;
}
