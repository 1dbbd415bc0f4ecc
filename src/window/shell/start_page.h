/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* What a window shows while no vehicle is open: three choices, and the vehicles of late. */
GtkWidget *cw_start_page_new(void);

G_END_DECLS
