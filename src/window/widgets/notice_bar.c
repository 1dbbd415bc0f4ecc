/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/notice_bar.h"

#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

#define DONE_FOR_S 6

typedef struct {
  GtkWidget *bar, *label;
  guint timeout;
} Notice;

/* The words go too: a screen reader finds them in a bar that is not shown. */
static void hide(Notice *notice)
{
  g_clear_handle_id(&notice->timeout, g_source_remove);
  gtk_label_set_text(GTK_LABEL(notice->label), "");
  gtk_info_bar_set_revealed(GTK_INFO_BAR(notice->bar), FALSE);
}

static gboolean on_read(gpointer data)
{
  Notice *notice = data;
  notice->timeout = 0;
  hide(notice);
  return G_SOURCE_REMOVE;
}

/* What was done goes by itself; what failed stays until it is closed or something else is told. */
static void on_told(CwSession *session, int kind, const char *text, Notice *notice)
{
  static const GtkMessageType types[] = {GTK_MESSAGE_INFO, GTK_MESSAGE_WARNING, GTK_MESSAGE_ERROR};
  hide(notice);
  gtk_info_bar_set_message_type(GTK_INFO_BAR(notice->bar), types[kind]);
  gtk_label_set_text(GTK_LABEL(notice->label), text);
  gtk_info_bar_set_revealed(GTK_INFO_BAR(notice->bar), TRUE);
  if (kind == CW_TOLD_DONE)
    notice->timeout = g_timeout_add_seconds(DONE_FOR_S, on_read, notice);
}

static void notice_free(gpointer data)
{
  Notice *notice = data;
  g_clear_handle_id(&notice->timeout, g_source_remove);
  g_free(notice);
}

GtkWidget *cw_notice_bar_new(CwSession *session)
{
  Notice *notice = g_new0(Notice, 1);
  notice->bar = gtk_info_bar_new();
  notice->label = cw_text(NULL);
  gtk_label_set_selectable(GTK_LABEL(notice->label), TRUE);
  gtk_info_bar_add_child(GTK_INFO_BAR(notice->bar), notice->label);
  gtk_info_bar_set_show_close_button(GTK_INFO_BAR(notice->bar), TRUE);
  gtk_info_bar_set_revealed(GTK_INFO_BAR(notice->bar), FALSE);
  g_object_set_data_full(G_OBJECT(notice->bar), "notice", notice, notice_free);
  g_signal_connect_swapped(notice->bar, "response", G_CALLBACK(hide), notice);
  gulong handler = g_signal_connect(session, "told", G_CALLBACK(on_told), notice);
  cw_disconnect_with(session, handler, notice->bar);
  return notice->bar;
}
