/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/tuning/predict.h"
#include "window/state/session.h"

G_BEGIN_DECLS

/* The prediction of the session's vehicle at a seat, kept up to date cheaply: new takes make it anew, an
 * edited output only sets that output. With the session's solo only the chosen outputs sound in it. */
typedef struct CwPredictedCar CwPredictedCar;

/* For a seat, or with NULL for the one that the session looks at. */
CwPredictedCar *cw_predicted_car_new(CwSession *session, const char *seat);
void cw_predicted_car_free(CwPredictedCar *forecast);
const char *cw_predicted_car_get_seat(CwPredictedCar *forecast);

/* FALSE, with the reason in words, where nothing can be predicted yet. */
gboolean cw_predicted_car_update(CwPredictedCar *forecast, GError **error);

/* What "before" is: the settings of another tune (CwTune), or with NULL none at all. */
void cw_predicted_car_set_before(CwPredictedCar *forecast, CwRecord *tune);

/* Valid after a TRUE from the above; CW_PREDICTION_POINTS values each, borrowed. */
double cw_predicted_car_level_db(CwPredictedCar *forecast);
void cw_predicted_car_hold_level(CwPredictedCar *forecast, gboolean held);
const double *cw_predicted_car_hz(CwPredictedCar *forecast);
const double *cw_predicted_car_measured_db(CwPredictedCar *forecast, gint64 output);
const double *cw_predicted_car_predicted_db(CwPredictedCar *forecast, gint64 output);
const double *cw_predicted_car_before_db(CwPredictedCar *forecast, gint64 output);
const double *cw_predicted_car_sum_db(CwPredictedCar *forecast, CwSum sum);
const double *cw_predicted_car_sum_before_db(CwPredictedCar *forecast, CwSum sum);
const double *cw_predicted_car_target_db(CwPredictedCar *forecast);

/* Curves are shown as means of power over this part of an octave: what the ear tells apart, and readable. */
#define CW_SHOWN_PART_OF_OCTAVE 6

/* smooth[i] is the mean power over 1/part of an octave around point i; both CW_PREDICTION_POINTS. */
void cw_predicted_car_smooth(const double *db, int part, double *smooth);

G_END_DECLS
