/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/tuning/tune_wish.h"
#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* What a proposal may change, and the tunes that there are to choose from: locks of the chosen output, a
 * budget of filters, which parts and which outputs, and a row for every alternative with its figures. */
GtkWidget *cw_proposals_pane_new(CwSession *session);

/* Shows the vehicle's tune and the chosen output as they are now. */
void cw_proposals_pane_refresh(GtkWidget *pane);

/* What is asked for there, without the locks, which stand in the tune. Clear with cw_tune_wish_clear(). */
CwTuneWish cw_proposals_pane_get_wish(GtkWidget *pane);

G_END_DECLS
