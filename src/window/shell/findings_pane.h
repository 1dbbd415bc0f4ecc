/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* What the program noticed: severity by shape and word, evidence, advice, and a button to where it is
 * settled. */
GtkWidget *cw_findings_pane_new(CwSession *session);

G_END_DECLS
