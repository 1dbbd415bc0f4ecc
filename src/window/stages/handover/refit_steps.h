/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The same tune for another processor: asks for the processor's profile and for the file to write, computes
 * off the main loop, and says what it cost. The vehicle that is open stays as it is. */
void cw_refit_ask(GtkWidget *parent, CwSession *session);

G_END_DECLS
