/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The cabin from above: speakers and heads where they are. A click chooses a speaker or a seat, a drag or the
 * arrow keys move it (with Shift by 10 cm); the chosen seat's distances are written at the speakers, and the
 * speaker that sounds is marked. */
#define CW_TYPE_PLAN_VIEW (cw_plan_view_get_type())
G_DECLARE_FINAL_TYPE(CwPlanView, cw_plan_view, CW, PLAN_VIEW, GtkWidget)

/* The cabin from above for the session's vehicle; follows its changes. */
GtkWidget *cw_plan_view_new(CwSession *session);

/* The same, with the leads of the factory radio at the corners that they feed. */
GtkWidget *cw_plan_view_new_of_leads(CwSession *session);

G_END_DECLS
