/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/plots/plot_view.h"
#include "window/sound/live_microphone.h"
#include "window/state/predicted_car.h"

G_BEGIN_DECLS

/* Draws what the whole car does at a seat: left, right and both with the target and its band, what it is
 * compared with, and both sides together at the other seats (CwPredictedCar, updated). predicted FALSE
 * empties the plot. */
void cw_sum_plot_draw(CwPlotView *view, CwPredictedCar *forecast, gboolean predicted, gboolean with_before,
                      const GPtrArray *others, CwSession *session);

/* Draws anew, over the rest, what the ear hears now; nothing while it does not listen. Its level is brought
 * to that of both sides together as predicted, as what plays is not known: shapes are compared. Equal power
 * in equal parts of an octave (pink noise) shows the response. */
void cw_sum_plot_draw_heard(CwPlotView *view, CwPredictedCar *forecast, CwLiveMicrophone *ear);

/* How far each side is from the target (root mean square over both), and left from right (mean), dB, from
 * low_hz to 16 kHz in bands of a sixth of an octave; the target is at the mean level of each side. */
void cw_sum_figures(CwPredictedCar *forecast, double low_hz, double *side_db, double *match_db);

/* From where up a vehicle's sums are judged: where its lowest speaker plays fully, at least 50 Hz. */
double cw_sum_figures_low_hz(CwRecord *vehicle);

G_END_DECLS
