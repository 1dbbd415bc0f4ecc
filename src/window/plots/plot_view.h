/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "plot/plot_draw.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* A plot on the screen: a readout by mouse and arrow keys, zoom by drag, scroll and keys, copy as a picture,
 * data as CSV. The owner changes the plot and then calls cw_plot_view_update(). Signal "view-changed": what
 * is shown, or the size. */
#define CW_TYPE_PLOT_VIEW (cw_plot_view_get_type())
G_DECLARE_FINAL_TYPE(CwPlotView, cw_plot_view, CW, PLOT_VIEW, GtkWidget)

/* An empty plot under a name for those who hear the window. */
GtkWidget *cw_plot_view_new(const char *name);

/* The plot, the view's own. */
CwPlot *cw_plot_view_get_plot(CwPlotView *view);

/* The plot's data or view are others now. */
void cw_plot_view_update(CwPlotView *view);

/* What the plot shows, in words; the readout is added to it. */
void cw_plot_view_set_words(CwPlotView *view, const char *words);

/* What stands at the readout, series by series; the caller's. */
char *cw_plot_view_say_readout(CwPlotView *view);

/* Where the data are, in the widget's pixels. */
CwPlotArea cw_plot_view_get_area(CwPlotView *view);
void cw_plot_view_to_pixels(CwPlotView *view, double x, double y, double *pixel_x, double *pixel_y);
void cw_plot_view_from_pixels(CwPlotView *view, double pixel_x, double pixel_y, double *x, double *y);

G_END_DECLS
