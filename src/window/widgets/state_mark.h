/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Small drawn marks that say by their shape what else is said by a word. */
GtkWidget *cw_state_mark_new(void);
void cw_state_mark_set_state(GtkWidget *mark, int state);
GtkWidget *cw_severity_mark_new(int severity);

G_END_DECLS
