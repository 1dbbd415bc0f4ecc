/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/tab_stop.h"

/* The list cannot have the focus while the next place for it is looked for. */
static gboolean on_key(GtkEventControllerKey *controller, guint key, guint code, GdkModifierType state,
                       GtkWidget *list)
{
  gboolean back = key == GDK_KEY_ISO_Left_Tab || (key == GDK_KEY_Tab && (state & GDK_SHIFT_MASK));
  if (!back && key != GDK_KEY_Tab && key != GDK_KEY_KP_Tab)
    return GDK_EVENT_PROPAGATE;
  if (state & GDK_CONTROL_MASK)
    return GDK_EVENT_PROPAGATE;
  gtk_widget_set_can_focus(list, FALSE);
  gtk_widget_child_focus(GTK_WIDGET(gtk_widget_get_root(list)),
                         back ? GTK_DIR_TAB_BACKWARD : GTK_DIR_TAB_FORWARD);
  gtk_widget_set_can_focus(list, TRUE);
  return GDK_EVENT_STOP;
}

void cw_make_one_tab_stop(GtkWidget *list)
{
  GtkEventController *keys = gtk_event_controller_key_new();
  gtk_event_controller_set_propagation_phase(keys, GTK_PHASE_CAPTURE);
  g_signal_connect(keys, "key-pressed", G_CALLBACK(on_key), list);
  gtk_widget_add_controller(list, keys);
}
