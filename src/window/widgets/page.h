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

/* A page for a stage; `sentence` says what the stage is for. */
GtkWidget *cw_page_new(CwSession *session, int stage, const char *sentence);
int cw_page_get_stage(CwPage *page);

/* What brings the page up to date; data are freed with the page. */
void cw_page_set_refresh(CwPage *page, CwPageRefresh refresh, gpointer data, GDestroyNotify free_data);

/* The data of the page's refresh: valid as long as the page. */
gpointer cw_page_get_data(CwPage *page);

/* Brings the page up to date now if it is seen, else when it will be. */
void cw_page_refresh(CwPage *page);

/* What the page shows; it takes the room that is left. */
void cw_page_set_content(CwPage *page, GtkWidget *content);

/* The same for content that may be longer than the page. */
void cw_page_set_content_scrolled(CwPage *page, GtkWidget *content);

/* A button at the page's top; called with data as its first argument. */
GtkWidget *cw_page_add_button(CwPage *page, const char *label, GCallback clicked, gpointer data);

/* The page's main thing to do, which Ctrl+Return does too. */
GtkWidget *cw_page_add_main_button(CwPage *page, const char *label, GCallback clicked, gpointer data);

/* Does the page's main thing; FALSE if there is none now. */
gboolean cw_page_do_main(CwPage *page);

/* What the stage needs before it can work, and the stage where that is done; NULL when it can work. */
void cw_page_set_need(CwPage *page, const char *text, int stage);

/* A bold line above a group of things. */
GtkWidget *cw_heading(const char *text);

/* Text that wraps. */
GtkWidget *cw_text(const char *text);
GtkWidget *cw_dim_text(const char *text);

/* Sets a label's text if it is another one: GTK lays the window out again even for the same. */
void cw_show_text(GtkWidget *label, const char *text);

/* What is not on the screen is not to be heard either: GTK 4.8 says so of hidden widgets, but not of a
 * stack's other pages. */
void cw_follow_mapped(GtkWidget *widget);

/* A notebook's page. GTK names every tab "Tab" to screen readers: it gets its title. */
void cw_add_tab(GtkWidget *notebook, GtkWidget *child, const char *title);

/* The widget's name for those who hear the window instead of seeing it. */
void cw_set_name(GtkWidget *widget, const char *name);

/* Numbers with a minus or a unit, and drawings, read from the left in every language. */
void cw_read_from_left(GtkWidget *widget);

/* Where two parts share their room: the first gets so many per cent of it, and at least so many pixels, until
 * a hand moves the border. */
void cw_share_room(GtkWidget *paned, int percent, int least);

/* Disconnects the handler when the widget to which its data belong goes. */
void cw_disconnect_with(gpointer from, gulong handler, GtkWidget *widget);

/* Calls callback(data) on a signal for as long as the widget to which the data belong lives. */
void cw_connect_while_alive(gpointer from, const char *signal, GCallback callback, gpointer data,
                            GtkWidget *widget);

G_END_DECLS
