/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/filters/section_table.h"

#include "window/filters/slope_choice.h"
#include "window/state/linked_outputs.h"
#include "window/state/words.h"
#include "window/widgets/page.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>

enum { NUMBER, KIND, FREQUENCY, GAIN, Q, SLOPE, BYPASS, LOCK, REMOVE, N_COLUMNS };

typedef struct {
  CwSession *session;
  CwSectionChosen chosen;
  gpointer data;
  CwRecord *owner;
  gulong items_handler;
  GtkWidget *head, *rows;
  GtkSizeGroup *width[N_COLUMNS]; /* headings and rows have the same */
} Table;

static void on_row_entered(GtkEventController *controller, Table *table)
{
  GtkWidget *row = gtk_event_controller_get_widget(controller);
  table->chosen(g_object_get_data(G_OBJECT(row), "section"), table->data);
}

static void on_remove(GtkButton *button, Table *table)
{
  CwRecord *section = g_object_get_data(G_OBJECT(button), "section");
  g_autofree char *name = cw_say_owner(cw_session_get_vehicle(table->session), table->owner);
  g_autofree char *what = g_strdup_printf(_("Remove a filter of %s"), name);
  g_autoptr(CwSession) session = g_object_ref(table->session);
  cw_linking_remove(session, section);
  cw_session_commit(session, what);
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

/* Crossovers are locked as a part of their output, and an input's filters are nobody's to propose. */
static gboolean has_lock(CwRecord *owner, CwRecord *section)
{
  return G_OBJECT_TYPE(owner) == cw_tune_output_get_type() &&
         cw_tune_section_get_use(section) == CW_USE_CORRECTION;
}

static GtkWidget *new_lock(Table *table, CwRecord *section)
{
  GtkWidget *lock = cw_value_input_new(table->session, section, CW_TUNE_SECTION_FIELD_HELD, 0);
  gtk_widget_set_halign(lock, GTK_ALIGN_CENTER);
  gtk_widget_set_tooltip_text(lock, _("Lock this filter: a new proposal keeps it"));
  return lock;
}

static void append(Table *table, GtkWidget *row, int column, GtkWidget *cell)
{
  gtk_widget_set_valign(cell, GTK_ALIGN_CENTER);
  gtk_size_group_add_widget(table->width[column], cell);
  gtk_box_append(GTK_BOX(row), cell);
}

static GtkWidget *new_number(guint number)
{
  g_autofree char *text = g_strdup_printf("%u", number);
  GtkWidget *label = gtk_label_new(text);
  gtk_widget_add_css_class(label, "numeric");
  return label;
}

/* Gain and Q share the room of a slope. */
static GtkWidget *new_gain_and_q(Table *table, GtkWidget *gain, GtkWidget *q)
{
  GtkWidget *both = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 4);
  append(table, both, GAIN, gain);
  append(table, both, Q, q);
  return both;
}

static GtkWidget *new_row(Table *table, CwRecord *section, guint number)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 4),
            *bypass = cw_value_input_new(table->session, section, CW_TUNE_SECTION_FIELD_BYPASS, 0);
  GtkEventController *focus = gtk_event_controller_focus_new();
  gtk_widget_add_css_class(row, "section-row");
  gtk_widget_set_halign(bypass, GTK_ALIGN_CENTER);
  append(table, row, NUMBER, new_number(number));
  append(table, row, KIND, cw_value_input_new(table->session, section, CW_TUNE_SECTION_FIELD_KIND, 0));
  append(table, row, FREQUENCY,
         cw_value_input_new(table->session, section, CW_TUNE_SECTION_FIELD_FREQUENCY_HZ, 6));
  if (cw_tune_section_get_use(section) == CW_USE_CROSSOVER)
    append(table, row, SLOPE, cw_slope_choice_new(table->session, section));
  else
    append(table, row, SLOPE,
           new_gain_and_q(table,
                          cw_value_input_new(table->session, section, CW_TUNE_SECTION_FIELD_GAIN_DB, 5),
                          cw_value_input_new(table->session, section, CW_TUNE_SECTION_FIELD_Q, 5)));
  append(table, row, BYPASS, bypass);
  append(table, row, LOCK, has_lock(table->owner, section) ? new_lock(table, section) : gtk_label_new(""));
  append(table, row, REMOVE, new_remove(table, section));
  g_object_set_data(G_OBJECT(row), "section", section);
  g_signal_connect(focus, "enter", G_CALLBACK(on_row_entered), table);
  gtk_widget_add_controller(row, focus);
  return row;
}

static GtkWidget *new_heading(const char *text)
{
  GtkWidget *label = cw_dim_text(text);
  gtk_widget_add_css_class(label, "caption");
  gtk_label_set_wrap(GTK_LABEL(label), FALSE);
  return label;
}

static GtkWidget *new_headings(Table *table)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 4);
  gtk_widget_add_css_class(row, "section-head");
  append(table, row, NUMBER, new_heading(""));
  append(table, row, KIND, new_heading(_("Filter")));
  append(table, row, FREQUENCY, new_heading(_("Frequency")));
  append(table, row, SLOPE, new_gain_and_q(table, new_heading(_("Gain")), new_heading(_("Q"))));
  append(table, row, BYPASS, new_heading(_("Bypass")));
  append(table, row, LOCK, new_heading(_("Lock")));
  append(table, row, REMOVE, new_heading(""));
  return row;
}

static void build(Table *table)
{
  for (GtkWidget *row; (row = gtk_widget_get_first_child(table->rows));)
    gtk_box_remove(GTK_BOX(table->rows), row);
  CwList *sections = table->owner ? cw_port_get_sections(table->owner) : NULL;
  for (guint i = 0; sections && i < cw_list_get_length(sections); i++)
    gtk_box_append(GTK_BOX(table->rows), new_row(table, cw_list_get(sections, i), i + 1));
  gtk_widget_set_visible(table->head, sections && cw_list_get_length(sections) > 0);
}

static void on_items_changed(Table *table)
{
  build(table);
}

static void let_go(Table *table)
{
  if (table->owner)
    g_signal_handler_disconnect(cw_port_get_sections(table->owner), table->items_handler);
  g_clear_object(&table->owner);
}

void cw_section_table_set_owner(GtkWidget *widget, CwRecord *owner)
{
  Table *table = g_object_get_data(G_OBJECT(widget), "table");
  if (table->owner == owner)
    return;
  let_go(table);
  if (owner) {
    table->owner = g_object_ref(owner);
    table->items_handler =
        g_signal_connect_data(cw_port_get_sections(owner), "items-changed", G_CALLBACK(on_items_changed),
                              table, NULL, G_CONNECT_SWAPPED | G_CONNECT_AFTER);
  }
  build(table);
}

/* Scrolls so far that a row is seen whole. */
static void scroll_to(Table *table, GtkWidget *row)
{
  GtkWidget *scrolled = gtk_widget_get_ancestor(table->rows, GTK_TYPE_SCROLLED_WINDOW);
  GtkAdjustment *adjustment = gtk_scrolled_window_get_vadjustment(GTK_SCROLLED_WINDOW(scrolled));
  graphene_rect_t bounds;
  if (gtk_widget_compute_bounds(row, table->rows, &bounds))
    gtk_adjustment_clamp_page(adjustment, bounds.origin.y, bounds.origin.y + bounds.size.height);
}

void cw_section_table_choose(GtkWidget *widget, CwRecord *section)
{
  Table *table = g_object_get_data(G_OBJECT(widget), "table");
  for (GtkWidget *row = gtk_widget_get_first_child(table->rows); row;
       row = gtk_widget_get_next_sibling(row)) {
    if (g_object_get_data(G_OBJECT(row), "section") != section) {
      gtk_widget_remove_css_class(row, "chosen");
      continue;
    }
    gtk_widget_add_css_class(row, "chosen");
    scroll_to(table, row);
  }
}

static void table_free(gpointer data)
{
  Table *table = data;
  let_go(table);
  for (int column = 0; column < N_COLUMNS; column++)
    g_object_unref(table->width[column]);
  g_free(data);
}

GtkWidget *cw_section_table_new(CwSession *session, CwSectionChosen chosen, gpointer data)
{
  Table *table = g_new0(Table, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 2), *scrolled = gtk_scrolled_window_new();
  *table = (Table){.session = session, .chosen = chosen, .data = data};
  for (int column = 0; column < N_COLUMNS; column++)
    table->width[column] = gtk_size_group_new(GTK_SIZE_GROUP_HORIZONTAL);
  table->rows = gtk_box_new(GTK_ORIENTATION_VERTICAL, 2);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), table->rows);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_AUTOMATIC, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_propagate_natural_width(GTK_SCROLLED_WINDOW(scrolled), TRUE);
  gtk_widget_set_vexpand(scrolled, TRUE);
  table->head = new_headings(table);
  GtkWidget *above =
      gtk_scrolled_window_new(); /* headings move sideways with the rows where there is little room */
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(above), GTK_POLICY_EXTERNAL, GTK_POLICY_NEVER);
  gtk_scrolled_window_set_propagate_natural_width(GTK_SCROLLED_WINDOW(above), TRUE);
  gtk_scrolled_window_set_hadjustment(GTK_SCROLLED_WINDOW(above),
                                      gtk_scrolled_window_get_hadjustment(GTK_SCROLLED_WINDOW(scrolled)));
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(above), table->head);
  gtk_box_append(GTK_BOX(box), above);
  gtk_box_append(GTK_BOX(box), scrolled);
  g_object_set_data_full(G_OBJECT(box), "table", table, table_free);
  return box;
}
