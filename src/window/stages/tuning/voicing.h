/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Broad voicing of the whole car in words that musicians use; the same on every output, so that their match
 * stays. */
GtkWidget *cw_voicing_new(CwSession *session);
void cw_voicing_refresh(GtkWidget *voicing);

G_END_DECLS
