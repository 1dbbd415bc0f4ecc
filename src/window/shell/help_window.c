/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/help_window.h"

#include "vehicle/kinds/kinds.h"
#include "window/state/words.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <string.h>

#define HELP_PATH "/io/github/cabinwright/help/"

/* --- from a help page to widgets --- */

/* The part of Mallard that the pages are written in: titles, sections, paragraphs and lists. */
typedef struct {
  GtkWidget *box;
  GString *text; /* of the paragraph or title that is read */
  guint hidden;  /* depth inside of what is about the page, not of it */
  guint items;
  gboolean any_title;
} Reader;

static gboolean is_text(const char *element)
{
  return g_str_equal(element, "p") || g_str_equal(element, "title");
}

static void on_start(GMarkupParseContext *context, const char *element, const char **names,
                     const char **values, gpointer data, GError **error)
{
  Reader *reader = data;
  if (reader->hidden || g_str_equal(element, "info"))
    reader->hidden++;
  else if (g_str_equal(element, "item"))
    reader->items++;
  else if (is_text(element))
    g_string_truncate(reader->text, 0);
}

/* Line breaks and indentation of the file are nothing but spaces. */
static char *collapse(const char *text)
{
  g_auto(GStrv) words = g_strsplit_set(text, " \n\t", -1);
  GString *line = g_string_new(NULL);
  for (guint i = 0; words[i]; i++)
    if (*words[i])
      g_string_append_printf(line, line->len ? " %s" : "%s", words[i]);
  return g_string_free(line, FALSE);
}

static GtkWidget *new_paragraph(Reader *reader, const char *text, gboolean title)
{
  g_autofree char *item = reader->items ? g_strdup_printf("• %s", text) : NULL;
  GtkWidget *label = title ? cw_heading(text) : cw_text(item ? item : text);
  gtk_label_set_wrap(GTK_LABEL(label), TRUE);
  gtk_label_set_max_width_chars(GTK_LABEL(label), 68);
  if (title && !reader->any_title)
    gtk_widget_add_css_class(label, "title-2");
  reader->any_title |= title;
  return label;
}

static void on_end(GMarkupParseContext *context, const char *element, gpointer data, GError **error)
{
  Reader *reader = data;
  if (reader->hidden) {
    reader->hidden--;
    return;
  }
  if (g_str_equal(element, "item"))
    reader->items--;
  if (!is_text(element))
    return;
  g_autofree char *text = collapse(reader->text->str);
  if (*text)
    gtk_box_append(GTK_BOX(reader->box), new_paragraph(reader, text, g_str_equal(element, "title")));
}

static void on_text(GMarkupParseContext *context, const char *text, gsize length, gpointer data,
                    GError **error)
{
  Reader *reader = data;
  if (!reader->hidden)
    g_string_append_len(reader->text, text, (gssize)length);
}

static GtkWidget *read_page(const char *page)
{
  static const GMarkupParser parser = {.start_element = on_start, .end_element = on_end, .text = on_text};
  g_autofree char *path = g_strconcat(HELP_PATH, page, ".page", NULL);
  g_autoptr(GBytes) bytes = g_resources_lookup_data(path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  Reader reader = {.box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 12), .text = g_string_new(NULL)};
  g_autoptr(GError) error = NULL;
  g_autoptr(GMarkupParseContext) context = g_markup_parse_context_new(&parser, 0, &reader, NULL);
  gsize length = 0;
  const char *text = bytes ? g_bytes_get_data(bytes, &length) : NULL;
  if (!text || !g_markup_parse_context_parse(context, text, (gssize)length, &error) ||
      !g_markup_parse_context_end_parse(context, &error))
    gtk_box_append(GTK_BOX(reader.box), cw_text(_("This page of the help is not there.")));
  g_string_free(reader.text, TRUE);
  gtk_widget_add_css_class(reader.box, "help");
  return reader.box;
}

/* --- the window --- */

typedef struct {
  GtkWidget *pages, *scrolled;
} Help;

static const char *page_at(guint position)
{
  return position == 0 ? "index" : cw_stages[position - 1].word;
}

static void on_selected(Help *help)
{
  guint selected = gtk_drop_down_get_selected(GTK_DROP_DOWN(help->pages));
  if (selected <= CW_ROUTE_STAGE_COUNT)
    gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(help->scrolled), read_page(page_at(selected)));
}

static GtkWidget *new_pages(void)
{
  g_autoptr(GtkStringList) words = gtk_string_list_new((const char *const[]){_("The whole job"), NULL});
  for (int stage = 0; stage < CW_ROUTE_STAGE_COUNT; stage++)
    gtk_string_list_append(words, cw_say_stage(stage));
  return gtk_drop_down_new(G_LIST_MODEL(g_steal_pointer(&words)), NULL);
}

static gboolean on_key(GtkWindow *window, guint key, guint code, GdkModifierType state)
{
  if (key != GDK_KEY_Escape)
    return GDK_EVENT_PROPAGATE;
  gtk_window_close(window);
  return GDK_EVENT_STOP;
}

static GtkWindow *new_window(GtkWindow *parent)
{
  GtkWidget *window = gtk_window_new(), *bar = gtk_header_bar_new();
  GtkEventController *keys = gtk_event_controller_key_new();
  Help *help = g_new0(Help, 1);
  help->pages = new_pages();
  help->scrolled = gtk_scrolled_window_new();
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(help->scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  cw_set_name(help->pages, _("Page of the help"));
  gtk_header_bar_pack_start(GTK_HEADER_BAR(bar), help->pages);
  gtk_window_set_titlebar(GTK_WINDOW(window), bar);
  gtk_window_set_title(GTK_WINDOW(window), _("Help"));
  gtk_window_set_child(GTK_WINDOW(window), help->scrolled);
  gtk_window_set_default_size(GTK_WINDOW(window), 580, 640);
  gtk_window_set_transient_for(GTK_WINDOW(window), parent);
  gtk_window_set_destroy_with_parent(GTK_WINDOW(window), TRUE);
  gtk_widget_add_controller(window, keys);
  g_object_set_data_full(G_OBJECT(window), "help", help, g_free);
  g_signal_connect_swapped(help->pages, "notify::selected", G_CALLBACK(on_selected), help);
  g_signal_connect_swapped(keys, "key-pressed", G_CALLBACK(on_key), window);
  on_selected(help);
  return GTK_WINDOW(window);
}

void cw_help_window_show(GtkWindow *parent, const char *page)
{
  static GtkWindow *window; /* NULL while none is open */
  if (window && gtk_window_get_transient_for(window) != parent)
    gtk_window_destroy(window);
  if (!window) {
    window = new_window(parent);
    g_object_add_weak_pointer(G_OBJECT(window), (gpointer *)&window);
  }
  Help *help = g_object_get_data(G_OBJECT(window), "help");
  for (guint position = 0; position <= CW_ROUTE_STAGE_COUNT; position++)
    if (g_str_equal(page, page_at(position)))
      gtk_drop_down_set_selected(GTK_DROP_DOWN(help->pages), position);
  gtk_window_present(window);
}
