/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The first sound of a take, its step and its impulse over time, with the arrival marked; it can be moved by
 * the mouse, by keys or as a number, is marked as set by hand then, and can be left to the takes again. */
GtkWidget *cw_first_sound_pane_new(CwSession *session);

/* Shows a take, NULL for none. Its curves are worked out when the pane is seen. */
void cw_first_sound_pane_show(GtkWidget *pane, CwRecord *take);

G_END_DECLS
