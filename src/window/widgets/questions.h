/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Asks where to write a file; write(path, data) is called with the answer. */
typedef void (*CwPathChosen)(const char *path, gpointer data);
void cw_ask_path(GtkWidget *parent, GtkFileChooserAction action, const char *title, const char *name,
                 const char *filter_name, const char *pattern, CwPathChosen chosen, gpointer data,
                 GDestroyNotify free_data);
/* Asks yes or no; `yes` says what will be done. */
typedef void (*CwConfirmed)(gpointer data);
void cw_ask_consent(GtkWidget *parent, const char *question, const char *detail, const char *yes,
                    CwConfirmed confirmed, gpointer data);

G_END_DECLS
