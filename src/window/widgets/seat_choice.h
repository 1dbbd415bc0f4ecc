/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* A choice of one of the vehicle's seats; the session's seat follows. */
GtkWidget *cw_seat_choice_new(CwSession *session);

/* A choice of one of the vehicle's outputs; the session's output follows. */
GtkWidget *cw_output_choice_new(CwSession *session);

G_END_DECLS
