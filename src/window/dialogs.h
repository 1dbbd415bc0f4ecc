/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/window.h"

G_BEGIN_DECLS

/* Every question that the program asks in a window of its own. */
void cw_dialogs_open(CwWindow *window);
void cw_dialogs_new_vehicle(CwWindow *window);
void cw_dialogs_new_from_sheet(CwWindow *window);
void cw_dialogs_practice_afresh(CwWindow *window);
void cw_dialogs_name_restore_point(CwWindow *window);
void cw_dialogs_show_help(CwWindow *window);
void cw_dialogs_show_about(CwWindow *window);

/* Asks where to write a file; write(path, data) is called with the answer. */
typedef void (*CwPathChosen)(const char *path, gpointer data);
void cw_dialogs_choose_path(GtkWidget *parent, GtkFileChooserAction action, const char *title,
                            const char *name, const char *filter_name, const char *pattern,
                            CwPathChosen chosen, gpointer data, GDestroyNotify free_data);
/* Asks yes or no; `yes` says what will be done. */
typedef void (*CwConfirmed)(gpointer data);
void cw_dialogs_confirm(GtkWidget *parent, const char *question, const char *detail, const char *yes,
                        CwConfirmed confirmed, gpointer data);

G_END_DECLS
