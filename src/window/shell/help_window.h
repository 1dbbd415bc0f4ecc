/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The help, read within the program so that it needs neither network nor a help viewer. page: "index", or the
 * word of a stage. One window, shown again with another page. */
void cw_help_window_show(GtkWindow *parent, const char *page);

G_END_DECLS
