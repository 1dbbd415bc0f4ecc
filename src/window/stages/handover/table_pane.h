/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The coefficient table as it will be written, with what can be chosen of its form; and its writing. */
GtkWidget *cw_table_pane_new(CwSession *session);
void cw_table_pane_refresh(GtkWidget *pane);
gboolean cw_table_pane_has_table(GtkWidget *pane);
void cw_table_pane_export(GtkWidget *pane);

G_END_DECLS
