/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/numbers.h"
#include "window/plots/plot_view.h"

G_BEGIN_DECLS

/* The arrival of a take as a line over the plot of its first sound, with its doubt as a band and the take's
 * other edges as ticks. Drag the line; the arrow keys move it by 0.01 ms, with Shift by 0.1 ms, Page Up and
 * Page Down take it to the next edge. Lets everything that is not the line through to the plot. Signal
 * "moved" (double ms): a hand left it there. */
#define CW_TYPE_EDGE_HANDLE (cw_edge_handle_get_type())
G_DECLARE_FINAL_TYPE(CwEdgeHandle, cw_edge_handle, CW, EDGE_HANDLE, GtkWidget)

/* A handle over a plot view of time in ms, which must live as long. */
GtkWidget *cw_edge_handle_new(CwPlotView *view);

/* Where the arrival is, NAN to hide it; its doubt (NAN for none) in ms to each side; the take's edges, whose
 * first column is ms, are copied and may be NULL. */
void cw_edge_handle_show(CwEdgeHandle *handle, double arrival_ms, double doubt_ms, const CwNumbers *edges);

G_END_DECLS
