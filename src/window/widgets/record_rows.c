/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/record_rows.h"

#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

/* --- one child --- */

typedef struct {
  CwSession *session;
  CwRecord *record;
} Body;

static void body_free(gpointer data)
{
  Body *body = data;
  g_object_unref(body->session);
  g_object_unref(body->record);
  g_free(body);
}

/* The rows of a group are made when it is opened first: a sheet has hundreds. */
static void on_expanded(GtkExpander *expander, GParamSpec *pspec, Body *body)
{
  if (gtk_expander_get_expanded(expander) && !gtk_expander_get_child(expander))
    gtk_expander_set_child(expander, cw_record_rows_new(body->session, body->record));
}

static GtkWidget *new_group(CwSession *session, CwRecord *record, const char *title)
{
  GtkWidget *expander = gtk_expander_new(title);
  Body *body = g_new0(Body, 1);
  *body = (Body){g_object_ref(session), g_object_ref(record)};
  g_object_set_data_full(G_OBJECT(expander), "body", body, body_free);
  g_signal_connect(expander, "notify::expanded", G_CALLBACK(on_expanded), body);
  gtk_widget_add_css_class(expander, "group");
  return expander;
}

static void on_make_child(GtkButton *button, const CwField *field)
{
  CwSession *session = g_object_get_data(G_OBJECT(button), "session");
  CwRecord *record = g_object_get_data(G_OBJECT(button), "record");
  cw_record_make_child_at(record, cw_record_field_id(record, field));
  cw_record_commit_field(session, record, field);
}

typedef struct {
  CwSession *session;
  CwRecord *record;
  const CwField *field;
  GtkWidget *box;
} Child;

static void child_free(gpointer data)
{
  Child *child = data;
  g_object_unref(child->session);
  g_object_unref(child->record);
  g_free(child);
}

static void show_child(Child *child)
{
  CwRecord *record = cw_record_get_child_at(child->record, cw_record_field_id(child->record, child->field));
  GtkWidget *old = gtk_widget_get_first_child(child->box);
  if (old)
    gtk_box_remove(GTK_BOX(child->box), old);
  if (record) {
    gtk_box_append(GTK_BOX(child->box), new_group(child->session, record, _(child->field->label)));
    return;
  }
  g_autofree char *text = g_strdup_printf(_("Add: %s"), _(child->field->label));
  GtkWidget *button = gtk_button_new_with_label(text);
  gtk_widget_set_halign(button, GTK_ALIGN_START);
  g_object_set_data_full(G_OBJECT(button), "session", g_object_ref(child->session), g_object_unref);
  g_object_set_data_full(G_OBJECT(button), "record", g_object_ref(child->record), g_object_unref);
  g_signal_connect(button, "clicked", G_CALLBACK(on_make_child), (gpointer)child->field);
  gtk_box_append(GTK_BOX(child->box), button);
}

static GtkWidget *new_child(CwSession *session, CwRecord *record, const CwField *field)
{
  Child *child = g_new0(Child, 1);
  *child =
      (Child){g_object_ref(session), g_object_ref(record), field, gtk_box_new(GTK_ORIENTATION_VERTICAL, 0)};
  g_autofree char *signal = g_strdup_printf("notify::%s", field->key);
  g_strdelimit(signal, "_", '-');
  g_object_set_data_full(G_OBJECT(child->box), "child", child, child_free);
  cw_connect_while_alive(record, signal, G_CALLBACK(show_child), child, child->box);
  show_child(child);
  return child->box;
}

static const char *label_of(const CwField *field)
{
  return field->label ? _(field->label) : _("Items");
}

/* --- a list of children --- */

typedef struct {
  CwSession *session;
  CwRecord *owner;
  const CwField *field;
  CwList *list;
  GtkWidget *outside; /* the group with its heading */
  GtkWidget *items;   /* one child of this box an item, in the list's order */
} Items;

static void items_free(gpointer data)
{
  Items *items = data;
  g_object_unref(items->session);
  g_object_unref(items->owner);
  g_free(items);
}

static void show_title(GtkExpander *expander)
{
  Body *body = g_object_get_data(G_OBJECT(expander), "body");
  g_autofree char *title = cw_record_say_title(body->record);
  gtk_expander_set_label(expander, title);
}

static void on_remove(GtkButton *button, Items *items)
{
  CwRecord *record = g_object_get_data(G_OBJECT(button), "record");
  guint position;
  if (!cw_list_find(items->list, record, &position))
    return;
  g_autofree char *title = cw_record_say_title(record), *what = g_strdup_printf(_("Remove %s"), title);
  cw_list_remove(items->list, position);
  cw_session_commit(items->session, what);
}

static GtkWidget *new_item(Items *items, CwRecord *record)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6),
            *remove = gtk_button_new_from_icon_name("list-remove-symbolic");
  g_autofree char *title = cw_record_say_title(record), *name = g_strdup_printf(_("Remove %s"), title);
  GtkWidget *group = new_group(items->session, record, title);
  gtk_widget_set_hexpand(group, TRUE);
  gtk_widget_set_valign(remove, GTK_ALIGN_START);
  gtk_button_set_has_frame(GTK_BUTTON(remove), FALSE);
  gtk_widget_set_tooltip_text(remove, name);
  cw_set_name(remove, name);
  g_object_set_data(G_OBJECT(remove), "record", record);
  g_signal_connect(remove, "clicked", G_CALLBACK(on_remove), items);
  cw_connect_while_alive(record, "changed", G_CALLBACK(show_title), group, group);
  gtk_box_append(GTK_BOX(row), group);
  gtk_box_append(GTK_BOX(row), remove);
  return row;
}

static GtkWidget *item_at(Items *items, guint position)
{
  GtkWidget *row = gtk_widget_get_first_child(items->items);
  while (row && position--)
    row = gtk_widget_get_next_sibling(row);
  return row;
}

static void show_count(Items *items)
{
  g_autofree char *label =
      g_strdup_printf("%s (%u)", label_of(items->field), cw_list_get_length(items->list));
  gtk_expander_set_label(GTK_EXPANDER(items->outside), label);
}

static void on_items_changed(CwList *list, guint position, guint removed, guint added, Items *items)
{
  while (removed--)
    gtk_box_remove(GTK_BOX(items->items), item_at(items, position));
  for (guint i = 0; i < added; i++) {
    GtkWidget *before = position + i ? item_at(items, position + i - 1) : NULL;
    gtk_box_insert_child_after(GTK_BOX(items->items), new_item(items, cw_list_get(list, position + i)),
                               before);
  }
  show_count(items);
}

static void on_add(Items *items)
{
  g_autoptr(CwRecord) record = cw_record_new(cw_list_get_kind(items->list));
  g_autofree char *what = g_strdup_printf(_("Add to %s"), label_of(items->field));
  cw_list_identify(items->list, record);
  cw_list_append(items->list, record);
  if (!cw_session_commit(items->session, what))
    return;
  GtkWidget *row = item_at(items, cw_list_get_length(items->list) - 1);
  if (row)
    gtk_expander_set_expanded(GTK_EXPANDER(gtk_widget_get_first_child(row)), TRUE);
}

/* The focus can go to a row, and the page follow it, once the row has its place. */
static gboolean focus_when_placed(GtkWidget *row, GdkFrameClock *clock, gpointer data)
{
  if (gtk_widget_get_height(row) <= 0)
    return G_SOURCE_CONTINUE;
  gtk_widget_child_focus(row, GTK_DIR_TAB_FORWARD);
  gtk_widget_child_focus(row, GTK_DIR_TAB_FORWARD);
  return G_SOURCE_REMOVE;
}

/* Adds an item to a list (see cw_record_list_new()), opened, and brings it before the eye. */
void cw_record_list_add(GtkWidget *list)
{
  Items *items = g_object_get_data(G_OBJECT(list), "items");
  gtk_expander_set_expanded(GTK_EXPANDER(list), TRUE);
  on_add(items);
  GtkWidget *row = item_at(items, cw_list_get_length(items->list) - 1);
  if (row)
    gtk_widget_add_tick_callback(row, focus_when_placed, NULL, NULL);
}

/* The list of a field among a record's rows, NULL if they have none. */
GtkWidget *cw_record_rows_find_list(GtkWidget *rows, const char *key)
{
  for (GtkWidget *row = gtk_widget_get_first_child(rows); row; row = gtk_widget_get_next_sibling(row)) {
    Items *items = g_object_get_data(G_OBJECT(row), "items");
    if (items && g_str_equal(items->field->key, key))
      return row;
  }
  return NULL;
}

/* The children of a field as groups that can be opened, added and removed. */
GtkWidget *cw_record_list_new(CwSession *session, CwRecord *owner, const CwField *field)
{
  Items *items = g_new0(Items, 1);
  *items = (Items){.session = g_object_ref(session), .owner = g_object_ref(owner), .field = field};
  items->list = cw_record_get_children_at(owner, cw_record_field_id(owner, field));
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4),
            *add = gtk_button_new_from_icon_name("list-add-symbolic");
  g_autofree char *name = g_strdup_printf(_("Add to %s"), label_of(field));
  items->outside = gtk_expander_new(NULL);
  items->items = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4);
  gtk_widget_set_halign(add, GTK_ALIGN_START);
  gtk_widget_set_tooltip_text(add, name);
  cw_set_name(add, name);
  gtk_box_append(GTK_BOX(box), items->items);
  gtk_box_append(GTK_BOX(box), add);
  gtk_expander_set_child(GTK_EXPANDER(items->outside), box);
  gtk_widget_add_css_class(items->outside, "group");
  gtk_widget_set_tooltip_text(items->outside, field->meaning ? _(field->meaning) : NULL);
  g_object_set_data_full(G_OBJECT(items->outside), "items", items, items_free);
  g_signal_connect_swapped(add, "clicked", G_CALLBACK(on_add), items);
  cw_disconnect_with(items->list,
                     g_signal_connect(items->list, "items-changed", G_CALLBACK(on_items_changed), items),
                     items->outside);
  on_items_changed(items->list, 0, 0, cw_list_get_length(items->list), items);
  return items->outside;
}

/* All that the sheet shows of a record. */
GtkWidget *cw_record_rows_new(CwSession *session, CwRecord *record)
{
  GtkWidget *rows = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
  guint n_fields;
  const CwField *fields = cw_record_get_fields(record, &n_fields);
  gtk_widget_add_css_class(rows, "rows");
  for (guint i = 0; i < n_fields; i++) {
    if (fields[i].flags & CW_FIELD_HIDDEN)
      continue;
    GtkWidget *row = fields[i].type == CW_FIELD_RECORD    ? new_child(session, record, &fields[i])
                     : fields[i].type == CW_FIELD_RECORDS ? cw_record_list_new(session, record, &fields[i])
                                                          : cw_value_row_new(session, record, &fields[i]);
    gtk_box_append(GTK_BOX(rows), row);
  }
  return rows;
}
