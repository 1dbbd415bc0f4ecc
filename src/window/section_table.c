/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/section_table.h"

#include "window/page.h"
#include "window/record_rows.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  CwSectionChosen chosen;
  gpointer data;
  CwRecord *output;
  gulong items_handler;
  GtkWidget *rows;
} Table;

static void on_row_entered(GtkEventController *controller, Table *table)
{
  GtkWidget *row = gtk_event_controller_get_widget(controller);
  table->chosen(g_object_get_data(G_OBJECT(row), "section"), table->data);
}

static void on_remove(GtkButton *button, Table *table)
{
  CwRecord *section = g_object_get_data(G_OBJECT(button), "section");
  CwList *sections = cw_record_get_children(table->output, "sections");
  guint position;
  if (!cw_list_find(sections, section, &position))
    return;
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(table->session), cw_record_get_integer(table->output, "output"));
  g_autofree char *what = g_strdup_printf(_("Remove a filter of %s"), name);
  cw_list_remove(sections, position);
  cw_session_commit(table->session, what);
}

static GtkWidget *new_remove(Table *table, CwRecord *section)
{
  GtkWidget *button = gtk_button_new_from_icon_name("list-remove-symbolic");
  gtk_button_set_has_frame(GTK_BUTTON(button), FALSE);
  gtk_widget_set_tooltip_text(button, _("Remove this filter"));
  gtk_widget_set_valign(button, GTK_ALIGN_CENTER);
  cw_set_name(button, _("Remove this filter"));
  g_object_set_data(G_OBJECT(button), "section", section);
  g_signal_connect(button, "clicked", G_CALLBACK(on_remove), table);
  return button;
}

static void show_why(GtkLabel *label)
{
  CwRecord *section = g_object_get_data(G_OBJECT(label), "section");
  const char *why = cw_record_get_text(section, "why");
  g_autofree char *text = g_strdup_printf("%s. %s", cw_say_choice(section, "use"), why ? why : "");
  gtk_label_set_text(label, text);
}

static void append(GtkWidget *box, Table *table, CwRecord *section, const char *key, int width_chars)
{
  gtk_box_append(GTK_BOX(box), cw_value_input_new(table->session, section, key, width_chars));
}

/* What of a filter can be set. */
static GtkWidget *new_values(Table *table, CwRecord *section, guint number)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 4);
  g_autofree char *text = g_strdup_printf("%u", number);
  GtkWidget *label = gtk_label_new(text);
  gtk_label_set_width_chars(GTK_LABEL(label), 2);
  gtk_box_append(GTK_BOX(box), label);
  append(box, table, section, "kind", 0);
  append(box, table, section, "frequency_hz", 7);
  if (cw_record_get_choice(section, "use") == CW_USE_CROSSOVER) {
    append(box, table, section, "order", 2);
    append(box, table, section, "family", 0);
  } else {
    append(box, table, section, "gain_db", 6);
    append(box, table, section, "q", 5);
  }
  return box;
}

static GtkWidget *new_row(Table *table, CwRecord *section, guint number)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0), *top = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 4);
  GtkWidget *values = new_values(table, section, number), *why = cw_dim_text(NULL);
  GtkWidget *below = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 4), *bypass = cw_value_input_new(table->session, section, "bypass", 0);
  GtkEventController *focus = gtk_event_controller_focus_new();
  gtk_widget_add_css_class(row, "section-row");
  gtk_widget_add_css_class(why, "caption");
  gtk_widget_set_hexpand(values, TRUE);
  gtk_widget_set_hexpand(why, TRUE);
  gtk_box_append(GTK_BOX(top), values);
  gtk_box_append(GTK_BOX(top), new_remove(table, section));
  gtk_box_append(GTK_BOX(below), why);
  gtk_box_append(GTK_BOX(below), gtk_label_new(_("Bypass")));
  gtk_box_append(GTK_BOX(below), bypass);
  gtk_box_append(GTK_BOX(row), top);
  gtk_box_append(GTK_BOX(row), below);
  g_object_set_data(G_OBJECT(row), "section", section);
  g_object_set_data_full(G_OBJECT(why), "section", g_object_ref(section), g_object_unref);
  cw_connect_while_alive(section, "changed", G_CALLBACK(show_why), why, why);
  show_why(GTK_LABEL(why));
  g_signal_connect(focus, "enter", G_CALLBACK(on_row_entered), table);
  gtk_widget_add_controller(row, focus);
  return row;
}

static void build(Table *table)
{
  for (GtkWidget *row; (row = gtk_widget_get_first_child(table->rows));)
    gtk_box_remove(GTK_BOX(table->rows), row);
  CwList *sections = table->output ? cw_record_get_children(table->output, "sections") : NULL;
  for (guint i = 0; sections && i < cw_list_get_length(sections); i++)
    gtk_box_append(GTK_BOX(table->rows), new_row(table, cw_list_get(sections, i), i + 1));
}

static void on_items_changed(Table *table)
{
  build(table);
}

static void let_go(Table *table)
{
  if (table->output)
    g_signal_handler_disconnect(cw_record_get_children(table->output, "sections"), table->items_handler);
  g_clear_object(&table->output);
}

/* The output whose sections are shown, NULL for none. */
void cw_section_table_set_output(GtkWidget *widget, CwRecord *output)
{
  Table *table = g_object_get_data(G_OBJECT(widget), "table");
  if (table->output == output)
    return;
  let_go(table);
  if (output) {
    table->output = g_object_ref(output);
    table->items_handler = g_signal_connect_data(cw_record_get_children(output, "sections"), "items-changed", G_CALLBACK(on_items_changed),
                                                 table, NULL, G_CONNECT_SWAPPED | G_CONNECT_AFTER);
  }
  build(table);
}

/* Marks the row of a section. */
void cw_section_table_choose(GtkWidget *widget, CwRecord *section)
{
  Table *table = g_object_get_data(G_OBJECT(widget), "table");
  for (GtkWidget *row = gtk_widget_get_first_child(table->rows); row; row = gtk_widget_get_next_sibling(row)) {
    if (g_object_get_data(G_OBJECT(row), "section") == section)
      gtk_widget_add_css_class(row, "chosen");
    else
      gtk_widget_remove_css_class(row, "chosen");
  }
}

static void table_free(gpointer data)
{
  let_go(data);
  g_free(data);
}

GtkWidget *cw_section_table_new(CwSession *session, CwSectionChosen chosen, gpointer data)
{
  Table *table = g_new0(Table, 1);
  GtkWidget *scrolled = gtk_scrolled_window_new();
  *table = (Table){.session = session, .chosen = chosen, .data = data};
  table->rows = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), table->rows);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_widget_set_vexpand(scrolled, TRUE);
  g_object_set_data_full(G_OBJECT(scrolled), "table", table, table_free);
  return scrolled;
}
