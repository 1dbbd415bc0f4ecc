/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The outputs to choose from, one or several, each with its colour and dash as in the plots; the session's
 * outputs follow. */
GtkWidget *cw_output_list_new(CwSession *session);

G_END_DECLS
