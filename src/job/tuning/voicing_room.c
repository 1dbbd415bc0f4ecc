/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/voicing_room.h"
#include "job/tuning/tune_record.h"
#include "job/tuning/tune_wish.h"
#include "processor/limits.h"
#include <math.h>

#define LEAST_STEP_DB 0.1

static gboolean read_output(CwRecord *vehicle, CwRecord *output, CwOutputSetting *setting)
{
  double rate_hz = cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle));
  return !cw_tune_output_get_muted(output) &&
         cw_job_read_setting(cw_vehicle_get_tune(vehicle), output, rate_hz, setting, NULL);
}

CwRecord *cw_job_find_exposed_speaker(CwRecord *vehicle)
{
  CwList *outputs = cw_tune_get_outputs(cw_vehicle_get_tune(vehicle));
  double rate_hz = cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle));

  for (guint i = 0; i < cw_list_get_length(outputs); i++) {
    CwRecord *output = cw_list_get(outputs, i),
             *speaker = cw_vehicle_find_speaker(vehicle, cw_tune_output_get_output(output));
    CwOutputSetting setting;
    double lowest_hz = speaker ? cw_speaker_get_lowest_hz(speaker) : NAN;
    if (lowest_hz > 0 && read_output(vehicle, output, &setting) &&
        cw_setting_fall_db(&setting, rate_hz, lowest_hz) < CW_SETTING_LEAST_FALL_DB)
      return speaker;
  }
  return NULL;
}

double cw_job_make_room(CwRecord *vehicle)
{
  CwList *outputs = cw_tune_get_outputs(cw_vehicle_get_tune(vehicle));
  CwLimits limits = cw_limits_of_output(cw_vehicle_get_processor(vehicle));
  double over_db = 0, step_db = fmax(limits.gain_step_db, LEAST_STEP_DB);

  for (guint i = 0; i < cw_list_get_length(outputs); i++) {
    CwRecord *output = cw_list_get(outputs, i), *mix = cw_tune_output_get_mix(output);
    CwOutputSetting setting;
    double sum = mix ? fabs(cw_mix_get_left(mix)) + fabs(cw_mix_get_right(mix)) : 1;
    if (cw_tune_locked_parts(output) & CW_TUNE_GAIN)
      return 0;
    if (read_output(vehicle, output, &setting) && sum > 0)
      over_db = fmax(over_db, cw_setting_peak_db(&setting, limits.rate_hz) + 20 * log10(sum));
  }
  double down_db = over_db > 0.01 ? ceil(over_db / step_db - 1e-6) * step_db : 0;
  for (guint i = 0; down_db > 0 && i < cw_list_get_length(outputs); i++) {
    CwRecord *output = cw_list_get(outputs, i);
    cw_tune_output_set_gain_db(output,
                               cw_limits_gain_db(&limits, cw_tune_output_get_gain_db(output) - down_db));
  }
  return down_db;
}
