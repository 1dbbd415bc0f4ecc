/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/forecast.h"
#include "window/plot_view.h"

G_BEGIN_DECLS

/* Draws what the whole car does at a seat: left, right and both with the target and its band, what it is compared with, and both sides
 * together at the other seats (CwForecast, updated). predicted FALSE empties the plot. */
void cw_sum_plot_draw(CwPlotView *view, CwForecast *forecast, gboolean predicted, gboolean with_before, const GPtrArray *others, CwSession *session);

/* How far each side is from the target (root mean square over both), and left from right (mean), dB, from 50 Hz to 16 kHz in bands of a
 * sixth of an octave; the target is at the mean level of each side. */
void cw_sum_figures(CwForecast *forecast, double *side_db, double *match_db);

G_END_DECLS
