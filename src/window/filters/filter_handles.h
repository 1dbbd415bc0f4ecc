/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/plots/plot_view.h"
#include "window/state/session.h"

G_BEGIN_DECLS

/* The sections of an output or an input as handles on its curve. A drag sets frequency and gain, a drag with
 * Shift or a turn of the wheel Q; the arrow keys do the same for the chosen one, Page Up and Page Down
 * choose, Delete takes it away. Lies over a plot view and lets everything that is not a handle through to it.
 * Signal "chosen": another section was chosen. */
#define CW_TYPE_FILTER_HANDLES (cw_filter_handles_get_type())
G_DECLARE_FINAL_TYPE(CwFilterHandles, cw_filter_handles, CW, FILTER_HANDLES, GtkWidget)

/* Where the curve is at a frequency: the handles sit on it. */
typedef double (*CwCurveAt)(double hz, gpointer data);

/* Handles over a plot view, which must live as long. */
GtkWidget *cw_filter_handles_new(CwSession *session, CwPlotView *view, CwCurveAt curve_at, gpointer data);

/* The record whose sections are shown; to be called too when its list has changed. */
void cw_filter_handles_set_owner(CwFilterHandles *handles, CwRecord *owner);
CwRecord *cw_filter_handles_get_chosen(CwFilterHandles *handles);

/* Where the handle of the section at a place in its owner's list stands, in the widget's pixels; FALSE if
 * there is none. */
gboolean cw_filter_handles_get_place(CwFilterHandles *handles, guint section, double *x, double *y);

/* Chooses a section of the owner, or none. */
void cw_filter_handles_choose(CwFilterHandles *handles, CwRecord *section);

G_END_DECLS
