/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/proof_rows.h"

#include "job/measured_car.h"
#include "job/predict.h"
#include "window/forecast.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

/* A driver is judged where it plays: where its prediction is not further than this below its highest. */
#define PLAYS_WITHIN_DB 15.0
/* Takes a few millimetres elsewhere differ by this much in mean power over six places, sixth-octave bands; common practice. */
#define AGREES_RMS_DB 1.5
#define SPREAD_DB 3.0

typedef struct {
  double rms_db, worst_db, worst_hz;
} Deviation;

static Deviation deviate(const double *hz, const double *predicted, const double *measured)
{
  Deviation deviation = {NAN, 0, NAN};
  double top = -INFINITY, square = 0;
  guint used = 0;
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
    if (isfinite(predicted[i]))
      top = fmax(top, predicted[i]);
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++) {
    double difference = measured[i] - predicted[i];
    if (!isfinite(difference) || predicted[i] < top - PLAYS_WITHIN_DB)
      continue;
    square += difference * difference;
    used++;
    if (fabs(difference) > fabs(deviation.worst_db)) {
      deviation.worst_db = difference;
      deviation.worst_hz = hz[i];
    }
  }
  if (used)
    deviation.rms_db = sqrt(square / used);
  return deviation;
}

static void add_row(CwRecord *vehicle, const char *subject, const double *hz, const double *predicted_fine, const double *measured_fine)
{
  double predicted[CW_PREDICTION_POINTS], measured[CW_PREDICTION_POINTS], spread[CW_PREDICTION_POINTS];
  cw_forecast_smooth(predicted_fine, CW_SHOWN_PART_OF_OCTAVE, predicted);
  cw_forecast_smooth(measured_fine, CW_SHOWN_PART_OF_OCTAVE, measured);
  Deviation deviation = deviate(hz, predicted, measured);
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
    spread[i] = SPREAD_DB;
  g_autoptr(CwRecord) row = cw_record_new(cw_proof_row_get_type());
  cw_record_set_text(row, "subject", subject);
  cw_record_set_boolean(row, "agrees", deviation.rms_db <= AGREES_RMS_DB);
  cw_record_set_number(row, "rms_db", deviation.rms_db);
  cw_record_set_number(row, "worst_db", deviation.worst_db);
  cw_record_set_number(row, "worst_hz", deviation.worst_hz);
  cw_record_take_numbers(row, "predicted", cw_numbers_new_curve(CW_PREDICTION_POINTS, hz, predicted));
  cw_record_take_numbers(row, "measured", cw_numbers_new_curve(CW_PREDICTION_POINTS, hz, measured));
  cw_record_take_numbers(row, "spread", cw_numbers_new_curve(CW_PREDICTION_POINTS, hz, spread));
  cw_list_append(cw_record_get_children(vehicle, "proof"), row);
}

static void compare_all(CwRecord *vehicle, CwPrediction *predicted, CwPrediction *measured)
{
  const double *hz = cw_prediction_hz(predicted);
  CwList *speakers = cw_record_get_children(vehicle, "speakers");
  double one[CW_PREDICTION_POINTS], other[CW_PREDICTION_POINTS];
  cw_list_clear(cw_record_get_children(vehicle, "proof"));
  for (size_t i = 0; i < cw_prediction_outputs(measured); i++)
    cw_prediction_set_drive(measured, i, NULL, 0, 1, 0);
  cw_prediction_seat_db(predicted, CW_SUM_BOTH, one);
  cw_prediction_seat_db(measured, CW_SUM_BOTH, other);
  add_row(vehicle, _("Whole car"), hz, one, other);
  for (size_t i = 0; i < cw_prediction_outputs(measured) && i < cw_list_get_length(speakers); i++) {
    g_autofree char *name = cw_say_speaker(cw_list_get(speakers, (guint)i));
    g_autofree char *subject = g_strdup_printf("%d  %s", (int)cw_record_get_integer(cw_list_get(speakers, (guint)i), "output"), name);
    cw_prediction_output_db(predicted, i, one);
    cw_prediction_output_db(measured, i, other);
    add_row(vehicle, subject, hz, one, other);
  }
}

gboolean cw_proof_compare(CwProject *project, const char *seat, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *processor = cw_record_get_child(vehicle, "processor");
  CwPrediction *predicted = cw_job_predict(project, seat, error);
  CwCar *car = predicted ? cw_job_measured_car(project, seat, 1, error) : NULL;
  CwPrediction *measured = car ? cw_prediction_new(car, cw_record_get_number(processor, "sample_rate_hz")) : NULL;
  if (measured)
    compare_all(vehicle, predicted, measured);
  gboolean done = measured != NULL;
  cw_car_free(car);
  cw_prediction_free(measured);
  cw_prediction_free(predicted);
  return done;
}
