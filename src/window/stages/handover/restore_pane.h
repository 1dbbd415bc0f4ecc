/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The restore points: what changed since each, and the way back to it. */
GtkWidget *cw_restore_pane_new(CwSession *session);
void cw_restore_pane_refresh(GtkWidget *pane);

G_END_DECLS
