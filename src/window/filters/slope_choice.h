/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Family and slope of a crossover's section in one list, of those that there are and that the vehicle's
 * processor has. */
GtkWidget *cw_slope_choice_new(CwSession *session, CwRecord *section);

G_END_DECLS
