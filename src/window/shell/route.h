/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The nine stages at the left, each with its state by shape and word; a click opens its page. */
GtkWidget *cw_route_new(CwSession *session);

G_END_DECLS
