/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/predict.h"
#include "job/tuning/measured_car.h"
#include "processor/filter.h"
#include <math.h>

static gboolean add_cascade(CwList *sections, double rate_hz, GArray *cascade, GError **error)
{
  for (guint i = 0; sections && i < cw_list_get_length(sections); i++) {
    CwCoefficients expanded[CW_CROSSOVER_MOST_SECTIONS];
    CwFilter filter = cw_filter_read(cw_list_get(sections, i));
    gsize count;
    if (filter.bypass)
      continue;
    count = cw_filter_expand(&filter, rate_hz, expanded, NULL);
    if (count == 0)
      return cw_filter_refuse(&filter, rate_hz, error);
    g_array_append_vals(cascade, expanded, (guint)count);
  }
  return TRUE;
}

gboolean cw_job_predict_output(CwPrediction *prediction, guint index, CwRecord *tune, CwRecord *output,
                               double rate_hz, GError **error)
{
  g_autoptr(GArray) cascade = g_array_new(FALSE, FALSE, sizeof(CwCoefficients));
  double gain = pow(10, cw_record_get_number(output, "gain_db") / 20),
         delay = 1e-3 * cw_record_get_number(output, "delay_ms");
  CwRecord *mix = cw_record_get_child(output, "mix");

  if (!add_cascade(cw_record_get_children(output, "sections"), rate_hz, cascade, error) ||
      !add_cascade(cw_record_get_children(tune, "voicing"), rate_hz, cascade, error))
    return FALSE;
  if (cw_record_get_choice(output, "polarity") == CW_POLARITY_INVERTED)
    gain = -gain;
  if (cw_record_get_boolean(output, "muted"))
    gain = 0;
  if (mix)
    cw_prediction_set_mix(prediction, index, cw_record_get_number(mix, "left"),
                          cw_record_get_number(mix, "right"));
  cw_prediction_set_drive(prediction, index, (const CwCoefficients *)(gpointer)cascade->data, cascade->len,
                          gain, delay);
  return TRUE;
}

gboolean cw_job_predict_tune(CwPrediction *prediction, CwRecord *vehicle, CwRecord *tune, GError **error)
{
  CwList *speakers = cw_record_get_children(vehicle, "speakers"),
         *outputs = cw_record_get_children(tune, "outputs");
  double rate_hz = cw_record_get_number(tune, "sample_rate_hz");

  if (isnan(rate_hz))
    rate_hz = cw_record_get_number(cw_record_get_child(vehicle, "processor"), "sample_rate_hz");
  for (guint i = 0; i < cw_list_get_length(speakers) && i < cw_prediction_outputs(prediction); i++) {
    CwRecord *output =
        cw_list_find_integer(outputs, "output", cw_record_get_integer(cw_list_get(speakers, i), "output"));
    if (!output)
      cw_prediction_set_drive(prediction, i, NULL, 0, 0, 0);
    else if (!cw_job_predict_output(prediction, i, tune, output, rate_hz, error))
      return FALSE;
  }
  return TRUE;
}

CwPrediction *cw_job_predict(CwProject *project, const char *seat, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *tune = cw_record_get_child(vehicle, "tune");
  CwCar *car = cw_job_measured_car(project, seat, 0, error);
  CwPrediction *prediction;

  if (!car)
    return NULL;
  prediction = cw_prediction_new(
      car, cw_record_get_number(cw_record_get_child(vehicle, "processor"), "sample_rate_hz"));
  cw_car_free(car);
  if (tune && !cw_job_predict_tune(prediction, vehicle, tune, error))
    g_clear_pointer(&prediction, cw_prediction_free);
  return prediction;
}
