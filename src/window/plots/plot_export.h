/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "plot/plot_draw.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* A plot as a picture and as data. */
/* cw_plot_draw(), or that of one layer */
typedef void (*CwPlotDraw)(cairo_t *cr, const CwPlot *plot, const CwPlotLook *look, double width,
                           double height);

/* The plot, or one of its layers, drawn once, width by height at a scale; on paper of a colour, or on nothing
 * for NULL. The caller's. */
GdkTexture *cw_plot_to_texture(const CwPlot *plot, CwPlotDraw draw, const CwPlotLook *look,
                               const CwColour *paper, int width, int height, int scale);

/* Black on white, as it will be put on paper. */
void cw_plot_copy_picture(GtkWidget *widget, const CwPlot *plot);

/* Asks where, and writes the plot's data there as CSV. */
void cw_plot_save_data(GtkWidget *widget, const CwPlot *plot);

/* Words that end at `right`, with their middle at `middle`. */
void cw_plot_draw_words(cairo_t *cr, const CwPlotLook *look, const char *words, double right, double middle);

G_END_DECLS
