/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* A stage's page: its title, a sentence, its buttons, what it needs, and below that what the stage itself
 * shows. It is brought up to date when the session changes and the page is seen. */
#define CW_TYPE_PAGE (cw_page_get_type())
G_DECLARE_FINAL_TYPE(CwPage, cw_page, CW, PAGE, GtkBox)

typedef void (*CwPageRefresh)(gpointer data);

GtkWidget *cw_page_new(CwSession *session, int stage, const char *sentence);
int cw_page_get_stage(CwPage *page);
void cw_page_set_refresh(CwPage *page, CwPageRefresh refresh, gpointer data, GDestroyNotify free_data);
gpointer cw_page_get_data(CwPage *page);
void cw_page_refresh(CwPage *page);
void cw_page_set_content(CwPage *page, GtkWidget *content);
void cw_page_set_content_scrolled(CwPage *page, GtkWidget *content);
GtkWidget *cw_page_add_button(CwPage *page, const char *label, GCallback clicked, gpointer data);
GtkWidget *cw_page_add_main_button(CwPage *page, const char *label, GCallback clicked, gpointer data);
gboolean cw_page_do_main(CwPage *page);
void cw_page_set_need(CwPage *page, const char *text, int stage);

GtkWidget *cw_heading(const char *text);
GtkWidget *cw_text(const char *text);
GtkWidget *cw_dim_text(const char *text);
void cw_show_text(GtkWidget *label, const char *text);
void cw_follow_mapped(GtkWidget *widget);
void cw_add_tab(GtkWidget *notebook, GtkWidget *child, const char *title);
void cw_set_name(GtkWidget *widget, const char *name);
void cw_read_from_left(GtkWidget *widget);
void cw_share_room(GtkWidget *paned, int percent, int least);
void cw_disconnect_with(gpointer from, gulong handler, GtkWidget *widget);
void cw_connect_while_alive(gpointer from, const char *signal, GCallback callback, gpointer data,
                            GtkWidget *widget);

G_END_DECLS
