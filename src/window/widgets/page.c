/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/page.h"

#include "job/sheet/cautions.h"
#include "window/state/words.h"

#include <glib/gi18n-lib.h>

struct _CwPage {
  GtkBox parent_instance;
  CwSession *session;
  int stage;
  gboolean stale;
  CwPageRefresh refresh;
  gpointer data;
  GDestroyNotify free_data;
  GtkWidget *buttons;
  GtkWidget *main_button;
  GtkWidget *more_cautions;
  GtkWidget *need, *need_label, *need_button;
  int need_stage;
  GtkWidget *content;
};

G_DEFINE_FINAL_TYPE(CwPage, cw_page, GTK_TYPE_BOX)

void cw_page_refresh(CwPage *page)
{
  page->stale = TRUE;
  if (!gtk_widget_get_mapped(GTK_WIDGET(page)) || !cw_session_get_project(page->session))
    return;
  page->stale = FALSE;
  if (page->refresh)
    page->refresh(page->data);
}

static void page_map(GtkWidget *widget)
{
  CwPage *page = CW_PAGE(widget);
  GTK_WIDGET_CLASS(cw_page_parent_class)->map(widget);
  if (page->stale)
    cw_page_refresh(page);
}

static void page_dispose(GObject *object)
{
  CwPage *page = CW_PAGE(object);
  page->refresh = NULL;
  if (page->free_data)
    page->free_data(page->data);
  page->free_data = NULL;
  g_clear_object(&page->session);
  G_OBJECT_CLASS(cw_page_parent_class)->dispose(object);
}

static void cw_page_class_init(CwPageClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = page_dispose;
  GTK_WIDGET_CLASS(klass)->map = page_map;
}

static void cw_page_init(CwPage *page)
{
  gtk_orientable_set_orientation(GTK_ORIENTABLE(page), GTK_ORIENTATION_VERTICAL);
  gtk_widget_add_css_class(GTK_WIDGET(page), "page");
  page->stale = TRUE;
}

GtkWidget *cw_heading(const char *text)
{
  GtkWidget *label = gtk_label_new(text);
  gtk_label_set_xalign(GTK_LABEL(label), 0);
  gtk_widget_add_css_class(label, "heading");
  return label;
}

GtkWidget *cw_text(const char *text)
{
  GtkWidget *label = gtk_label_new(text);
  gtk_label_set_xalign(GTK_LABEL(label), 0);
  gtk_label_set_wrap(GTK_LABEL(label), TRUE);
  gtk_label_set_wrap_mode(GTK_LABEL(label), PANGO_WRAP_WORD_CHAR);
  return label;
}

GtkWidget *cw_dim_text(const char *text)
{
  GtkWidget *label = cw_text(text);
  gtk_widget_add_css_class(label, "dim-label");
  return label;
}

void cw_show_text(GtkWidget *label, const char *text)
{
  if (g_strcmp0(gtk_label_get_text(GTK_LABEL(label)), text ? text : "") != 0)
    gtk_label_set_text(GTK_LABEL(label), text ? text : "");
}

static void on_map(GtkWidget *widget)
{
  gtk_accessible_update_state(GTK_ACCESSIBLE(widget), GTK_ACCESSIBLE_STATE_HIDDEN, FALSE, -1);
}

static void on_unmap(GtkWidget *widget)
{
  gtk_accessible_update_state(GTK_ACCESSIBLE(widget), GTK_ACCESSIBLE_STATE_HIDDEN, TRUE, -1);
}

void cw_follow_mapped(GtkWidget *widget)
{
  g_signal_connect(widget, "map", G_CALLBACK(on_map), NULL);
  g_signal_connect(widget, "unmap", G_CALLBACK(on_unmap), NULL);
  on_unmap(widget);
}

void cw_set_name(GtkWidget *widget, const char *name)
{
  gtk_accessible_update_property(GTK_ACCESSIBLE(widget), GTK_ACCESSIBLE_PROPERTY_LABEL, name, -1);
}

void cw_add_tab(GtkWidget *notebook, GtkWidget *child, const char *title)
{
  GtkWidget *label = gtk_label_new(title);
  gtk_notebook_append_page(GTK_NOTEBOOK(notebook), child, label);
  cw_set_name(gtk_widget_get_parent(label), title);
}

void cw_read_from_left(GtkWidget *widget)
{
  GtkEditable *text = GTK_IS_EDITABLE(widget) ? gtk_editable_get_delegate(GTK_EDITABLE(widget)) : NULL;
  gtk_widget_set_direction(widget, GTK_TEXT_DIR_LTR);
  if (text)
    gtk_widget_set_direction(GTK_WIDGET(text), GTK_TEXT_DIR_LTR);
}

static void on_room_known(GtkPaned *paned)
{
  int room, least = GPOINTER_TO_INT(g_object_get_data(G_OBJECT(paned), "least")),
            percent = GPOINTER_TO_INT(g_object_get_data(G_OBJECT(paned), "percent"));
  g_object_get(paned, "max-position", &room, NULL);
  if (room < least || room == G_MAXINT || !gtk_widget_get_mapped(GTK_WIDGET(paned)))
    return; /* not laid out yet */
  g_signal_handlers_disconnect_by_func(paned, G_CALLBACK(on_room_known), NULL);
  gtk_paned_set_position(paned, MAX(least, room * percent / 100));
}

void cw_share_room(GtkWidget *paned, int percent, int least)
{
  g_object_set_data(G_OBJECT(paned), "least", GINT_TO_POINTER(least));
  g_object_set_data(G_OBJECT(paned), "percent", GINT_TO_POINTER(percent));
  gtk_paned_set_position(GTK_PANED(paned), least);
  g_signal_connect(paned, "notify::max-position", G_CALLBACK(on_room_known), NULL);
  g_signal_connect(paned, "map", G_CALLBACK(on_room_known), NULL);
}

static void on_go_to_need(CwPage *page)
{
  cw_session_set_stage(page->session, page->need_stage);
}

static GtkWidget *new_need_bar(CwPage *page)
{
  GtkWidget *bar = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 12);
  gtk_widget_add_css_class(bar, "need");
  page->need_label = cw_text(NULL);
  gtk_widget_set_hexpand(page->need_label, TRUE);
  page->need_button = gtk_button_new();
  gtk_widget_set_valign(page->need_button, GTK_ALIGN_CENTER);
  g_signal_connect_swapped(page->need_button, "clicked", G_CALLBACK(on_go_to_need), page);
  gtk_box_append(GTK_BOX(bar), page->need_label);
  gtk_box_append(GTK_BOX(bar), page->need_button);
  gtk_widget_set_visible(bar, FALSE);
  return bar;
}

static void on_more_cautions(CwPage *page, GtkToggleButton *button)
{
  gtk_widget_set_visible(page->more_cautions, gtk_toggle_button_get_active(button));
}

/* What has to be said before hands or ears are at risk: the first in sight, the others on demand. */
static void append_cautions(CwPage *page)
{
  const char *const *cautions = cw_job_cautions(page->stage);
  if (!cautions[0])
    return;
  GtkWidget *bar = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4),
            *top = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8);
  GtkWidget *first = cw_text(_(cautions[0])), *more = gtk_toggle_button_new_with_label(_("More cautions"));
  gtk_widget_add_css_class(bar, "caution");
  gtk_widget_add_css_class(more, "flat");
  gtk_widget_set_hexpand(first, TRUE);
  gtk_widget_set_valign(more, GTK_ALIGN_START);
  page->more_cautions = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4);
  gtk_widget_set_visible(page->more_cautions, FALSE);
  for (guint i = 1; cautions[i]; i++)
    gtk_box_append(GTK_BOX(page->more_cautions), cw_text(_(cautions[i])));
  g_signal_connect_swapped(more, "toggled", G_CALLBACK(on_more_cautions), page);
  gtk_box_append(GTK_BOX(top), first);
  gtk_box_append(GTK_BOX(top), more);
  gtk_box_append(GTK_BOX(bar), top);
  gtk_box_append(GTK_BOX(bar), page->more_cautions);
  gtk_box_append(GTK_BOX(page), bar);
}

GtkWidget *cw_page_new(CwSession *session, int stage, const char *sentence)
{
  CwPage *page = g_object_new(CW_TYPE_PAGE, NULL);
  page->session = g_object_ref(session);
  page->stage = stage;
  GtkWidget *top = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 12),
            *words = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0);
  GtkWidget *title = gtk_label_new(cw_say_stage(stage));
  gtk_label_set_xalign(GTK_LABEL(title), 0);
  gtk_widget_add_css_class(title, "title-2");
  gtk_widget_set_hexpand(words, TRUE);
  gtk_box_append(GTK_BOX(words), title);
  gtk_box_append(GTK_BOX(words), cw_dim_text(sentence));
  page->buttons = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  gtk_widget_set_valign(page->buttons, GTK_ALIGN_CENTER);
  gtk_box_append(GTK_BOX(top), words);
  gtk_box_append(GTK_BOX(top), page->buttons);
  gtk_widget_add_css_class(top, "page-top");
  page->need = new_need_bar(page);
  gtk_box_append(GTK_BOX(page), top);
  append_cautions(page);
  gtk_box_append(GTK_BOX(page), page->need);
  cw_follow_mapped(GTK_WIDGET(page));
  cw_set_name(GTK_WIDGET(page), cw_say_stage(stage));
  g_signal_connect_object(session, "changed", G_CALLBACK(cw_page_refresh), page, G_CONNECT_SWAPPED);
  g_signal_connect_object(session, "selection-changed", G_CALLBACK(cw_page_refresh), page, G_CONNECT_SWAPPED);
  return GTK_WIDGET(page);
}

int cw_page_get_stage(CwPage *page)
{
  return page->stage;
}

void cw_page_set_refresh(CwPage *page, CwPageRefresh refresh, gpointer data, GDestroyNotify free_data)
{
  page->refresh = refresh;
  page->data = data;
  page->free_data = free_data;
}

gpointer cw_page_get_data(CwPage *page)
{
  return page->data;
}

void cw_page_set_content(CwPage *page, GtkWidget *content)
{
  page->content = content;
  gtk_widget_set_vexpand(content, TRUE);
  gtk_widget_add_css_class(content, "page-content");
  gtk_box_append(GTK_BOX(page), content);
}

void cw_page_set_content_scrolled(CwPage *page, GtkWidget *content)
{
  GtkWidget *scrolled = gtk_scrolled_window_new();
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), content);
  gtk_widget_add_css_class(content, "page-content");
  gtk_widget_set_vexpand(scrolled, TRUE);
  page->content = scrolled;
  gtk_box_append(GTK_BOX(page), scrolled);
}

GtkWidget *cw_page_add_button(CwPage *page, const char *label, GCallback clicked, gpointer data)
{
  GtkWidget *button = gtk_button_new_with_mnemonic(label);
  g_auto(GStrv) parts = g_strsplit(label, "_", 2);
  g_autofree char *name = g_strjoinv("", parts);
  cw_set_name(button, name); /* GTK would read the underscore aloud */
  g_signal_connect_swapped(button, "clicked", clicked, data);
  gtk_box_append(GTK_BOX(page->buttons), button);
  return button;
}

GtkWidget *cw_page_add_main_button(CwPage *page, const char *label, GCallback clicked, gpointer data)
{
  page->main_button = cw_page_add_button(page, label, clicked, data);
  gtk_widget_add_css_class(page->main_button, "suggested-action");
  gtk_widget_set_tooltip_text(page->main_button, _("Ctrl+Return"));
  return page->main_button;
}

gboolean cw_page_do_main(CwPage *page)
{
  if (!page->main_button || !gtk_widget_is_sensitive(page->main_button) ||
      !gtk_widget_get_visible(page->main_button))
    return FALSE;
  g_signal_emit_by_name(page->main_button, "clicked");
  return TRUE;
}

void cw_page_set_need(CwPage *page, const char *text, int stage)
{
  gtk_widget_set_visible(page->need, text != NULL);
  if (!text)
    return;
  g_autofree char *go = g_strdup_printf(_("Go to %s"), cw_say_stage(stage));
  page->need_stage = stage;
  gtk_label_set_text(GTK_LABEL(page->need_label), text);
  gtk_button_set_label(GTK_BUTTON(page->need_button), go);
  gtk_widget_set_visible(page->need_button, stage != page->stage);
}

typedef struct {
  GWeakRef from;
  gulong handler;
} Connection;

static void disconnect(gpointer data, GObject *gone)
{
  Connection *connection = data;
  g_autoptr(GObject) from = g_weak_ref_get(&connection->from);
  if (from)
    g_signal_handler_disconnect(from, connection->handler);
  g_weak_ref_clear(&connection->from);
  g_free(connection);
}

void cw_disconnect_with(gpointer from, gulong handler, GtkWidget *widget)
{
  Connection *connection = g_new0(Connection, 1);
  g_weak_ref_init(&connection->from, from);
  connection->handler = handler;
  g_object_weak_ref(G_OBJECT(widget), disconnect, connection);
}

void cw_connect_while_alive(gpointer from, const char *signal, GCallback callback, gpointer data,
                            GtkWidget *widget)
{
  cw_disconnect_with(from, g_signal_connect_swapped(from, signal, callback, data), widget);
}
