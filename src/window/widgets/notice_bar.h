/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The bar below the header in which the session tells things. */
GtkWidget *cw_notice_bar_new(CwSession *session);

G_END_DECLS
