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
  double gain = pow(10, cw_tune_output_get_gain_db(output) / 20),
         delay = 1e-3 * cw_tune_output_get_delay_ms(output);
  CwRecord *mix = cw_tune_output_get_mix(output);

  if (!add_cascade(cw_tune_output_get_sections(output), rate_hz, cascade, error) ||
      !add_cascade(cw_tune_get_voicing(tune), rate_hz, cascade, error))
    return FALSE;
  if (cw_tune_output_get_polarity(output) == CW_POLARITY_INVERTED)
    gain = -gain;
  if (cw_tune_output_get_muted(output))
    gain = 0;
  if (mix)
    cw_prediction_set_mix(prediction, index, cw_mix_get_left(mix), cw_mix_get_right(mix));
  cw_prediction_set_drive(prediction, index, (const CwCoefficients *)(gpointer)cascade->data, cascade->len,
                          gain, delay);
  return TRUE;
}

gboolean cw_job_predict_tune(CwPrediction *prediction, CwRecord *vehicle, CwRecord *tune, GError **error)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle), *outputs = cw_tune_get_outputs(tune);
  double rate_hz = cw_tune_get_sample_rate_hz(tune);

  if (isnan(rate_hz))
    rate_hz = cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle));
  for (guint i = 0; i < cw_list_get_length(speakers) && i < cw_prediction_outputs(prediction); i++) {
    CwRecord *output = cw_list_find_integer_at(outputs, CW_TUNE_OUTPUT_FIELD_OUTPUT,
                                               cw_speaker_get_output(cw_list_get(speakers, i)));
    if (!output)
      cw_prediction_set_drive(prediction, i, NULL, 0, 0, 0);
    else if (!cw_job_predict_output(prediction, i, tune, output, rate_hz, error))
      return FALSE;
  }
  return TRUE;
}

CwPrediction *cw_job_predict(CwProject *project, const char *seat, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *tune = cw_vehicle_get_tune(vehicle);
  CwCar *car = cw_job_measured_car(project, seat, CW_PURPOSE_TUNING, error);
  CwPrediction *prediction;

  if (!car)
    return NULL;
  prediction = cw_prediction_new(car, cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle)));
  cw_car_free(car);
  if (tune && !cw_job_predict_tune(prediction, vehicle, tune, error))
    g_clear_pointer(&prediction, cw_prediction_free);
  return prediction;
}
