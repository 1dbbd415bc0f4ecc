/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/stages/tuning/target_handles.h"

G_BEGIN_DECLS

/* The sheet's target as rows of numbers, beside its handles on the plot: add, remove, load from a file. */
GtkWidget *cw_target_pane_new(CwSession *session, CwTargetHandles *handles);
void cw_target_pane_refresh(GtkWidget *pane);

G_END_DECLS
