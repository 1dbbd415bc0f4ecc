/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Makes a list one stop of the Tab key, entered at its selected row and left by the next Tab; the arrow keys
 * move within. Of itself, GTK 4.8 stops at every row, and with the focus goes the selection. */
void cw_make_one_tab_stop(GtkWidget *list);

G_END_DECLS
