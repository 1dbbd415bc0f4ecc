/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* How loud the car plays at the session's seat, third octave by third octave, until the first thing gives
 * out: as a plot and as lines that say what gives out. */
GtkWidget *cw_headroom_pane_new(CwSession *session);

/* The tune, the seat or the sheet may be others now: computed again a moment later, while the pane is seen.
 */
void cw_headroom_pane_refresh(GtkWidget *pane);

G_END_DECLS
