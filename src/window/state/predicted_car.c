/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/predicted_car.h"

#include "signal/log_grid.h"

#include <math.h>
#include <string.h>

/* Where the level of the target is read off the sum: the range in which every car plays. */
#define LEVEL_LOW_HZ 200.0
#define LEVEL_HIGH_HZ 4000.0

typedef double Curve[CW_PREDICTION_POINTS];

struct CwPredictedCar {
  CwSession *session;
  char *seat; /* NULL: the session's */
  CwPrediction *prediction;
  char *key;       /* the takes and the seat that the prediction is of */
  CwRecord *tune;  /* snapshot of the tune that is set; NULL to have all set anew */
  char *sounding;  /* the outputs that solo lets sound when the tune was set; NULL for all */
  Curve *measured; /* of each output, in the sheet's order */
  Curve sum_measured[CW_SUMS];
  CwRecord *before_tune; /* NULL: no settings */
  Curve *before;         /* of each output with that tune; NULL until it is asked for */
  Curve sum_before[CW_SUMS], sum[CW_SUMS];
  Curve predicted, target;
  gboolean level_held;
  double level_db; /* of the target; NaN before it is known. Solo leaves it where it was. */
};

CwPredictedCar *cw_predicted_car_new(CwSession *session, const char *seat)
{
  CwPredictedCar *forecast = g_new0(CwPredictedCar, 1);
  forecast->session = session;
  forecast->seat = g_strdup(seat);
  forecast->level_db = NAN;
  return forecast;
}

static void forget(CwPredictedCar *forecast)
{
  g_clear_pointer(&forecast->prediction, cw_prediction_free);
  g_clear_pointer(&forecast->key, g_free);
  g_clear_pointer(&forecast->measured, g_free);
  g_clear_pointer(&forecast->before, g_free);
  g_clear_pointer(&forecast->sounding, g_free);
  g_clear_object(&forecast->tune);
  forecast->level_db = NAN;
}

void cw_predicted_car_free(CwPredictedCar *forecast)
{
  forget(forecast);
  g_clear_object(&forecast->before_tune);
  g_free(forecast->seat);
  g_free(forecast);
}

/* The seat; borrowed. */
const char *cw_predicted_car_get_seat(CwPredictedCar *forecast)
{
  return forecast->seat ? forecast->seat : cw_session_get_seat(forecast->session);
}

/* Names the takes, the speakers and the seat: the same key, the same measured car. */
static char *key_of(CwRecord *vehicle, const char *seat)
{
  GString *key = g_string_new(seat);
  CwList *takes = cw_vehicle_get_takes(vehicle), *speakers = cw_vehicle_get_speakers(vehicle);
  for (guint i = 0; i < cw_list_get_length(takes); i++)
    if (cw_take_get_accepted(cw_list_get(takes, i)))
      g_string_append_printf(key, "|%s", cw_take_get_id(cw_list_get(takes, i)));
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    g_string_append_printf(key, "|%d %d %d %g", (int)cw_speaker_get_output(speaker),
                           cw_speaker_get_way(speaker), cw_speaker_get_side(speaker),
                           cw_numbers_named(cw_speaker_get_distance_cm(speaker), seat));
  }
  g_string_append_printf(key, "|%g", cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle)));
  return g_string_free(key, FALSE);
}

static void read_curves(CwPredictedCar *forecast, Curve *outputs, Curve *sums)
{
  for (size_t i = 0; i < cw_prediction_outputs(forecast->prediction); i++)
    cw_prediction_output_db(forecast->prediction, i, outputs[i]);
  for (int sum = 0; sum < CW_SUMS; sum++)
    cw_prediction_seat_db(forecast->prediction, sum, sums[sum]);
}

/* What the car does without settings: every output straight through. */
static void read_measured(CwPredictedCar *forecast)
{
  size_t outputs = cw_prediction_outputs(forecast->prediction);
  forecast->measured = g_new0(Curve, MAX(outputs, 1));
  for (size_t i = 0; i < outputs; i++)
    cw_prediction_set_drive(forecast->prediction, i, NULL, 0, 1, 0);
  read_curves(forecast, forecast->measured, forecast->sum_measured);
}

/* What it does with the tune that it is compared with; the one of now is to be set again after it. */
static void read_before(CwPredictedCar *forecast)
{
  size_t outputs = cw_prediction_outputs(forecast->prediction);
  if (forecast->before)
    return;
  forecast->before = g_new0(Curve, MAX(outputs, 1));
  g_clear_object(&forecast->tune);
  if (forecast->before_tune &&
      cw_job_predict_tune(forecast->prediction, cw_session_get_vehicle(forecast->session),
                          forecast->before_tune, NULL)) {
    read_curves(forecast, forecast->before, forecast->sum_before);
    return;
  }
  memcpy(forecast->before, forecast->measured, outputs * sizeof(Curve));
  memcpy(forecast->sum_before, forecast->sum_measured, sizeof forecast->sum_before);
}

void cw_predicted_car_set_before(CwPredictedCar *forecast, CwRecord *tune)
{
  if (g_set_object(&forecast->before_tune, tune))
    g_clear_pointer(&forecast->before, g_free);
}

static gboolean make(CwPredictedCar *forecast, CwRecord *vehicle, const char *seat, GError **error)
{
  g_autofree char *key = key_of(vehicle, seat);
  if (forecast->prediction && g_strcmp0(key, forecast->key) == 0)
    return TRUE;
  forget(forecast);
  forecast->prediction = cw_job_predict(cw_session_get_project(forecast->session), seat, error);
  if (!forecast->prediction)
    return FALSE;
  forecast->key = g_steal_pointer(&key);
  read_measured(forecast);
  return TRUE;
}

/* What of a tune's outputs counts alike for all of them. */
static gboolean same_for_all(CwRecord *one, CwRecord *other)
{
  CwList *a = cw_tune_get_voicing(one), *b = cw_tune_get_voicing(other);
  gboolean same = cw_list_get_length(a) == cw_list_get_length(b);
  for (guint i = 0; same && i < cw_list_get_length(a); i++)
    same = cw_record_equal(cw_list_get(a, i), cw_list_get(b, i));
  double rate = cw_tune_get_sample_rate_hz(one), other_rate = cw_tune_get_sample_rate_hz(other);
  return same && (rate == other_rate || (isnan(rate) && isnan(other_rate)));
}

static double rate_of(CwRecord *vehicle, CwRecord *tune)
{
  double rate_hz = cw_tune_get_sample_rate_hz(tune);
  return isnan(rate_hz) ? cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle)) : rate_hz;
}

/* Names the outputs that solo lets sound; NULL without solo. */
static char *say_sounding(CwPredictedCar *forecast)
{
  const GArray *chosen = cw_session_get_outputs(forecast->session);
  if (!cw_session_get_solo(forecast->session))
    return NULL;
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < chosen->len; i++)
    g_string_append_printf(text, "%d ", (int)g_array_index(chosen, gint64, i));
  return g_string_free(text, FALSE);
}

/* Silences what solo leaves out. */
static void silence(CwPredictedCar *forecast, CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  if (!cw_session_get_solo(forecast->session))
    return;
  for (guint i = 0; i < cw_list_get_length(speakers) && i < cw_prediction_outputs(forecast->prediction); i++)
    if (!cw_session_is_chosen(forecast->session, cw_speaker_get_output(cw_list_get(speakers, i))))
      cw_prediction_set_drive(forecast->prediction, i, NULL, 0, 0, 0);
}

/* Sets the outputs that changed since the tune that was set last. */
static gboolean set_changed(CwPredictedCar *forecast, CwRecord *vehicle, CwRecord *tune, GError **error)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  CwList *now = cw_tune_get_outputs(tune), *then = cw_tune_get_outputs(forecast->tune);
  for (guint i = 0; i < cw_list_get_length(speakers) && i < cw_prediction_outputs(forecast->prediction);
       i++) {
    gint64 number = cw_speaker_get_output(cw_list_get(speakers, i));
    CwRecord *output = cw_list_find_integer_at(now, CW_TUNE_OUTPUT_FIELD_OUTPUT, number),
             *before = cw_list_find_integer_at(then, CW_TUNE_OUTPUT_FIELD_OUTPUT, number);
    if (output == before || (output && before && cw_record_equal(output, before)))
      continue;
    if (!output)
      cw_prediction_set_drive(forecast->prediction, i, NULL, 0, 0, 0);
    else if (!cw_job_predict_output(forecast->prediction, i, tune, output, rate_of(vehicle, tune), error))
      return FALSE;
  }
  return TRUE;
}

static void set_straight(CwPredictedCar *forecast)
{
  for (size_t i = 0; i < cw_prediction_outputs(forecast->prediction); i++)
    cw_prediction_set_drive(forecast->prediction, i, NULL, 0, 1, 0);
  g_clear_object(&forecast->tune);
}

static gboolean set_tune(CwPredictedCar *forecast, CwRecord *vehicle, GError **error)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  g_autofree char *sounding = say_sounding(forecast);
  if (g_strcmp0(sounding, forecast->sounding) != 0)
    g_clear_object(&forecast->tune);
  g_free(forecast->sounding);
  forecast->sounding = g_steal_pointer(&sounding);
  if (!tune || !cw_list_get_length(cw_tune_get_outputs(tune))) {
    set_straight(forecast);
    silence(forecast, vehicle);
    return TRUE;
  }
  g_autoptr(CwRecord) snapshot = cw_record_snapshot(tune);
  if (snapshot == forecast->tune)
    return TRUE;
  gboolean set = forecast->tune && same_for_all(snapshot, forecast->tune)
                     ? set_changed(forecast, vehicle, snapshot, error)
                     : cw_job_predict_tune(forecast->prediction, vehicle, snapshot, error);
  silence(forecast, vehicle);
  if (set)
    g_set_object(&forecast->tune, snapshot);
  else
    g_clear_object(&forecast->tune);
  return set;
}

/* The sheet's target at the prediction's frequencies, at the level of the sum. */
static void place_target(CwPredictedCar *forecast, CwRecord *vehicle)
{
  const CwNumbers *target = cw_vehicle_get_target(vehicle);
  const double *hz = cw_predicted_car_hz(forecast);
  guint count = target ? target->n_rows : 0, used = 0;
  g_autofree double *target_hz = g_new(double, count + 1), *target_db = g_new(double, count + 1);
  double level = 0;
  for (guint i = 0; i < count; i++) {
    target_hz[i] = cw_numbers_at(target, i, 0);
    target_db[i] = cw_numbers_at(target, i, 1);
  }
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++) {
    forecast->target[i] = count ? cw_log_grid_interpolate(target_hz, target_db, count, hz[i]) : 0;
    if (hz[i] >= LEVEL_LOW_HZ && hz[i] <= LEVEL_HIGH_HZ && isfinite(forecast->sum[CW_SUM_BOTH][i])) {
      level += forecast->sum[CW_SUM_BOTH][i] - forecast->target[i];
      used++;
    }
  }
  if (used &&
      (isnan(forecast->level_db) || !(forecast->level_held || cw_session_get_solo(forecast->session))))
    forecast->level_db = level / used;
  for (guint i = 0; isfinite(forecast->level_db) && i < CW_PREDICTION_POINTS; i++)
    forecast->target[i] += forecast->level_db;
}

gboolean cw_predicted_car_update(CwPredictedCar *forecast, GError **error)
{
  CwRecord *vehicle = cw_session_get_vehicle(forecast->session);
  if (!make(forecast, vehicle, cw_predicted_car_get_seat(forecast), error))
    return FALSE;
  read_before(forecast);
  if (!set_tune(forecast, vehicle, error))
    return FALSE;
  for (int sum = 0; sum < CW_SUMS; sum++)
    cw_prediction_seat_db(forecast->prediction, sum, forecast->sum[sum]);
  place_target(forecast, vehicle);
  return TRUE;
}

/* What the sheet's target is raised by in the plots, so that it lies in the middle of the sum; NaN before it
 * is known. */
double cw_predicted_car_level_db(CwPredictedCar *forecast)
{
  return forecast->level_db;
}

/* Leaves the target's level where it is while it is being shaped. */
void cw_predicted_car_hold_level(CwPredictedCar *forecast, gboolean held)
{
  forecast->level_held = held;
}

const double *cw_predicted_car_hz(CwPredictedCar *forecast)
{
  return cw_prediction_hz(forecast->prediction);
}

/* The place of an output in the sheet's order; -1 if it is not there. */
static int index_of(CwPredictedCar *forecast, gint64 output)
{
  CwList *speakers = cw_vehicle_get_speakers(cw_session_get_vehicle(forecast->session));
  for (guint i = 0; i < cw_list_get_length(speakers) && i < cw_prediction_outputs(forecast->prediction); i++)
    if (cw_speaker_get_output(cw_list_get(speakers, i)) == output)
      return (int)i;
  return -1;
}

/* One output alone as it was measured; NULL for one that is not there. */
const double *cw_predicted_car_measured_db(CwPredictedCar *forecast, gint64 output)
{
  int index = index_of(forecast, output);
  return index < 0 ? NULL : forecast->measured[index];
}

/* One output alone with its settings; NULL for one that is not there. */
const double *cw_predicted_car_predicted_db(CwPredictedCar *forecast, gint64 output)
{
  int index = index_of(forecast, output);
  if (index < 0)
    return NULL;
  cw_prediction_output_db(forecast->prediction, (size_t)index, forecast->predicted);
  return forecast->predicted;
}

/* The same with the settings that are compared with. */
const double *cw_predicted_car_before_db(CwPredictedCar *forecast, gint64 output)
{
  int index = index_of(forecast, output);
  return index < 0 ? NULL : forecast->before[index];
}

const double *cw_predicted_car_sum_db(CwPredictedCar *forecast, CwSum sum)
{
  return forecast->sum[sum];
}

const double *cw_predicted_car_sum_before_db(CwPredictedCar *forecast, CwSum sum)
{
  return forecast->sum_before[sum];
}

const double *cw_predicted_car_target_db(CwPredictedCar *forecast)
{
  return forecast->target;
}

void cw_predicted_car_smooth(const double *db, int part, double *smooth)
{
  int reach = CW_PREDICTION_PER_OCTAVE / part / 2;
  double power[CW_PREDICTION_POINTS], sum = 0;
  int used = 0;
  for (int i = 0; i < CW_PREDICTION_POINTS; i++)
    power[i] = isfinite(db[i]) ? exp(db[i] * (G_LN10 / 10)) : -1;
  for (int next = 0, i = 0; i < CW_PREDICTION_POINTS; i++) {
    for (; next <= MIN(i + reach, CW_PREDICTION_POINTS - 1); next++)
      if (power[next] >= 0) {
        sum += power[next];
        used++;
      }
    if (i > reach && power[i - reach - 1] >= 0) {
      sum -= power[i - reach - 1];
      used--;
    }
    smooth[i] = used && power[i] >= 0 ? 10 * log10(fmax(sum, 1e-300) / used) : (double)NAN;
  }
}
