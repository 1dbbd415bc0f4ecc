/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/predict.h"
#include "window/session.h"

G_BEGIN_DECLS

/* The prediction of the session's vehicle at its seat, kept up to date cheaply: new takes make it anew, an edited output only
 * sets that output. */
typedef struct CwForecast CwForecast;

CwForecast *cw_forecast_new(CwSession *session);
void cw_forecast_free(CwForecast *forecast);

/* FALSE, with the reason in words, where nothing can be predicted yet. */
gboolean cw_forecast_update(CwForecast *forecast, GError **error);

/* Valid after a TRUE from the above; CW_PREDICTION_POINTS values each, borrowed. */
const double *cw_forecast_hz(CwForecast *forecast);
const double *cw_forecast_measured_db(CwForecast *forecast, gint64 output);
const double *cw_forecast_predicted_db(CwForecast *forecast, gint64 output);
const double *cw_forecast_sum_db(CwForecast *forecast, CwSum sum);
const double *cw_forecast_sum_before_db(CwForecast *forecast, CwSum sum);
const double *cw_forecast_target_db(CwForecast *forecast);

/* Curves are shown as means of power over this part of an octave: what the ear tells apart, and readable. */
#define CW_SHOWN_PART_OF_OCTAVE 6

/* smooth[i] is the mean power over 1/part of an octave around point i; both CW_PREDICTION_POINTS. */
void cw_forecast_smooth(const double *db, int part, double *smooth);

G_END_DECLS
