/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The arrivals of all outputs at a position beside those that the sheet's distances let expect, each with its
 * doubt and what it rests on. */
GtkWidget *cw_arrival_table_new(CwSession *session);

/* Shows a position, NULL for none; worked out when the table is seen. */
void cw_arrival_table_show(GtkWidget *table, const char *position);

G_END_DECLS
