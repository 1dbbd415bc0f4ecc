/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/predict.h"
#include "window/session.h"

G_BEGIN_DECLS

/* The prediction of the session's vehicle at a seat, kept up to date cheaply: new takes make it anew, an
 * edited output only sets that output. With the session's solo only the chosen outputs sound in it. */
typedef struct CwForecast CwForecast;

/* For a seat, or with NULL for the one that the session looks at. */
CwForecast *cw_forecast_new(CwSession *session, const char *seat);
void cw_forecast_free(CwForecast *forecast);
const char *cw_forecast_get_seat(CwForecast *forecast);

/* FALSE, with the reason in words, where nothing can be predicted yet. */
gboolean cw_forecast_update(CwForecast *forecast, GError **error);

/* What "before" is: the settings of another tune (CwTune), or with NULL none at all. */
void cw_forecast_set_before(CwForecast *forecast, CwRecord *tune);

/* Valid after a TRUE from the above; CW_PREDICTION_POINTS values each, borrowed. */
double cw_forecast_level_db(CwForecast *forecast);
void cw_forecast_hold_level(CwForecast *forecast, gboolean held);
const double *cw_forecast_hz(CwForecast *forecast);
const double *cw_forecast_measured_db(CwForecast *forecast, gint64 output);
const double *cw_forecast_predicted_db(CwForecast *forecast, gint64 output);
const double *cw_forecast_before_db(CwForecast *forecast, gint64 output);
const double *cw_forecast_sum_db(CwForecast *forecast, CwSum sum);
const double *cw_forecast_sum_before_db(CwForecast *forecast, CwSum sum);
const double *cw_forecast_target_db(CwForecast *forecast);

/* Curves are shown as means of power over this part of an octave: what the ear tells apart, and readable. */
#define CW_SHOWN_PART_OF_OCTAVE 6

/* smooth[i] is the mean power over 1/part of an octave around point i; both CW_PREDICTION_POINTS. */
void cw_forecast_smooth(const double *db, int part, double *smooth);

G_END_DECLS
