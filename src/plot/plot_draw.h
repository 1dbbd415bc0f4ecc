/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "plot/plot.h"

G_BEGIN_DECLS

/* The part of a drawing in which the data are; the rest holds the marks. */
typedef struct {
  double x, y, width, height;
} CwPlotArea;

/* Where the data are in a drawing of this size. */
CwPlotArea cw_plot_area(const CwPlot *plot, const CwPlotLook *look, double width, double height);

/* Grid, marks and units: all but the data. */
void cw_plot_draw_frame(cairo_t *cr, const CwPlot *plot, const CwPlotLook *look, double width, double height);

/* The data: every series in order, and its label at its end. */
void cw_plot_draw_series(cairo_t *cr, const CwPlot *plot, const CwPlotLook *look, double width,
                         double height);

/* The whole plot in a rectangle from the origin, width by height. */
void cw_plot_draw(cairo_t *cr, const CwPlot *plot, const CwPlotLook *look, double width, double height);

/* The dash pattern, in widths of the line, so that it reads the same on screen and on paper. */
void cw_plot_set_dash(cairo_t *cr, CwDash dash, double width);

G_END_DECLS
