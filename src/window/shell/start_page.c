/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/start_page.h"

#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

#define RECENT_MOST 5

static GtkWidget *new_choice(const char *title, const char *detail, const char *action)
{
  GtkWidget *button = gtk_button_new(), *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4);
  GtkWidget *head = gtk_label_new(title), *text = cw_dim_text(detail);
  gtk_widget_add_css_class(head, "title-3");
  gtk_label_set_justify(GTK_LABEL(text), GTK_JUSTIFY_CENTER);
  gtk_label_set_xalign(GTK_LABEL(text), 0.5);
  gtk_label_set_max_width_chars(GTK_LABEL(text), 24);
  gtk_box_append(GTK_BOX(box), head);
  gtk_box_append(GTK_BOX(box), text);
  gtk_widget_set_valign(box, GTK_ALIGN_CENTER);
  gtk_button_set_child(GTK_BUTTON(button), box);
  gtk_widget_set_size_request(button, 270, 130);
  cw_set_name(button, title);
  gtk_actionable_set_action_name(GTK_ACTIONABLE(button), action);
  return button;
}

static void on_recent(GtkButton *button)
{
  gtk_widget_activate_action(GTK_WIDGET(button), "app.open", "s", g_object_get_data(G_OBJECT(button), "uri"));
}

static GtkWidget *new_recent_button(GtkRecentInfo *info)
{
  GtkWidget *button = gtk_button_new_with_label(gtk_recent_info_get_display_name(info));
  g_autofree char *place = gtk_recent_info_get_uri_display(info);
  gtk_button_set_has_frame(GTK_BUTTON(button), FALSE);
  gtk_widget_set_tooltip_text(button, place);
  g_object_set_data_full(G_OBJECT(button), "uri", g_strdup(gtk_recent_info_get_uri(info)), g_free);
  g_signal_connect(button, "clicked", G_CALLBACK(on_recent), NULL);
  return button;
}

static gint compare_recent(gconstpointer a, gconstpointer b)
{
  return g_date_time_compare(gtk_recent_info_get_modified((GtkRecentInfo *)b),
                             gtk_recent_info_get_modified((GtkRecentInfo *)a));
}

static GtkWidget *new_recent_list(void)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 2);
  GList *items = g_list_sort(gtk_recent_manager_get_items(gtk_recent_manager_get_default()), compare_recent);
  int shown = 0;
  for (GList *l = items; l && shown < RECENT_MOST; l = l->next) {
    if (!gtk_recent_info_has_application(l->data, "Cabinwright") || !gtk_recent_info_exists(l->data))
      continue;
    if (!shown++)
      gtk_box_append(GTK_BOX(box), cw_heading(_("Recent vehicles")));
    gtk_box_append(GTK_BOX(box), new_recent_button(l->data));
  }
  g_list_free_full(items, (GDestroyNotify)gtk_recent_info_unref);
  gtk_widget_set_halign(box, GTK_ALIGN_CENTER);
  return box;
}

GtkWidget *cw_start_page_new(void)
{
  GtkWidget *page = gtk_box_new(GTK_ORIENTATION_VERTICAL, 24),
            *choices = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 18);
  GtkWidget *title = gtk_label_new(_("The whole job, from taking the car in to handing it back"));
  gtk_widget_add_css_class(title, "title-2");
  gtk_box_set_homogeneous(GTK_BOX(choices), TRUE);
  cw_follow_mapped(page);
  gtk_widget_set_valign(page, GTK_ALIGN_CENTER);
  gtk_widget_set_halign(choices, GTK_ALIGN_CENTER);
  gtk_box_append(GTK_BOX(choices),
                 new_choice(_("Open the practice bay"),
                            _("A simulated car: try every stage, nothing can break"), "app.practice"));
  gtk_box_append(GTK_BOX(choices), new_choice(_("New vehicle"), _("Take a car in"), "win.new"));
  gtk_box_append(GTK_BOX(choices), new_choice(_("Open"), _("Go on with a car that you know"), "win.open"));
  gtk_box_append(GTK_BOX(page), title);
  gtk_box_append(GTK_BOX(page), choices);
  gtk_box_append(GTK_BOX(page), new_recent_list());
  return page;
}
