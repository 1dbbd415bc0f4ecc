/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/plots/plot_view.h"
#include "window/state/session.h"

G_BEGIN_DECLS

/* What takes look like in plots. */
void cw_plot_add_curve(CwPlot *plot, const char *label, const CwNumbers *curve, CwColour colour, CwDash dash);
void cw_show_responses(CwPlotView *view, CwRecord *vehicle, CwRecord *take);
void cw_show_distortion(CwPlotView *view, CwRecord *vehicle, CwRecord *take);
char *cw_say_take(CwRecord *vehicle, CwRecord *take);
double cw_find_rattle_hz(CwRecord *vehicle, gint64 output, CwRecord *take);

G_END_DECLS
