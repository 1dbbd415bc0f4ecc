/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The way of the sound as wires: inputs, outputs, amplifier channels, speakers. A click on an output chooses
 * it; what was proven is drawn whole, what was not dashed. */
#define CW_TYPE_MAP_VIEW (cw_map_view_get_type())
G_DECLARE_FINAL_TYPE(CwMapView, cw_map_view, CW, MAP_VIEW, GtkWidget)

/* The channel map as lines between leads, outputs, channels and speakers; follows the vehicle. */
GtkWidget *cw_map_view_new(CwSession *session);

G_END_DECLS
