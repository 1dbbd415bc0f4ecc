/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/plots/plot_view.h"
#include "window/state/predicted_car.h"

G_BEGIN_DECLS

/* The points of the sheet's target as handles on its curve: drag them, double-click the plot to add one,
 * Delete takes the chosen one away; arrow keys move it, Page Up and Page Down choose, Insert adds one after
 * it. Lies over a plot view and lets everything that is not a handle through to it. Signal "chosen": another
 * point was chosen. */
#define CW_TYPE_TARGET_HANDLES (cw_target_handles_get_type())
G_DECLARE_FINAL_TYPE(CwTargetHandles, cw_target_handles, CW, TARGET_HANDLES, GtkWidget)

/* Handles over a plot view; it and the forecast must live as long. */
GtkWidget *cw_target_handles_new(CwSession *session, CwPlotView *view, CwPredictedCar *forecast);

/* Whether the handles are there; not before the forecast has something to show. */
void cw_target_handles_show(CwTargetHandles *handles, gboolean shown);

/* Where there is most room after the chosen point, on the curve as it is. */
void cw_target_handles_add(CwTargetHandles *handles);
void cw_target_handles_remove(CwTargetHandles *handles);
gboolean cw_target_handles_can_remove(CwTargetHandles *handles);

G_END_DECLS
