/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey/volts.h"
#include "job/findings/review.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define LEAST_VOLTS 0.001 /* less no multimeter tells */
#define MOST_VOLTS 200.0
#define LEAST_FULL_SCALE_V 0.001
#define MOST_FULL_SCALE_V 1000.0

double cw_job_volts_at_full_scale(CwRecord *vehicle)
{
  CwRecord *reading = cw_vehicle_get_volts_reading(vehicle);
  return reading ? cw_volts_reading_get_volts_per_full_scale(reading) : NAN;
}

static void move_number(CwRecord *record, CwFieldId id, double db)
{
  if (cw_record_is_known_at(record, id))
    cw_record_set_number_at(record, id, cw_record_get_number_at(record, id) + db);
}

static void move_response(CwRecord *record, double db)
{
  const CwNumbers *response = cw_lead_or_sum_get_response(record);
  guint rows = response ? response->n_rows : 0;
  g_autofree double *hz = g_new(double, rows + 1), *level = g_new(double, rows + 1);

  for (guint i = 0; i < rows; i++) {
    hz[i] = cw_numbers_at(response, i, 0);
    level[i] = cw_numbers_at(response, i, 1) + db;
  }
  if (rows)
    cw_lead_or_sum_take_response(record, cw_numbers_new_curve(rows, hz, level));
}

void cw_job_scale_survey(CwRecord *survey, double volts_per_full_scale)
{
  static const CwFieldId levels[] = {CW_LEAD_FIELD_LEVEL_DBV, CW_LEAD_FIELD_CLEAN_DBV,
                                     CW_LEAD_FIELD_NOISE_DBV, CW_LEAD_FIELD_HUM_DBV};
  double db = 20 * log10(volts_per_full_scale / cw_survey_get_volts_per_full_scale(survey));
  CwList *leads = cw_survey_get_leads(survey), *sums = cw_survey_get_sums(survey);

  if (isnan(db))
    return;
  for (guint i = 0; i < cw_list_get_length(leads); i++) {
    for (guint k = 0; k < G_N_ELEMENTS(levels); k++)
      move_number(cw_list_get(leads, i), levels[k], db);
    move_response(cw_list_get(leads, i), db);
  }
  for (guint i = 0; i < cw_list_get_length(sums); i++)
    move_response(cw_list_get(sums, i), db);
  cw_survey_set_volts_per_full_scale(survey, volts_per_full_scale);
  cw_survey_set_volts_untold(survey, FALSE);
}

gboolean cw_job_hear_volts_tone(const CwRecording *recording, guint channel, CwVoltsToneReading *reading,
                                GError **error)
{
  if (channel >= recording->channels)
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, _("holds %u channels, and no channel %u"),
                         recording->channels, channel + 1);
  *reading = cw_volts_tone_read(recording->channel[channel], recording->frames, recording->rate_hz);
  for (unsigned fault = 1; fault <= CW_VOLTS_TONE_LAST_FAULT; fault <<= 1)
    if (reading->faults & fault)
      return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s",
                           _(cw_volts_tone_fault_text((CwVoltsToneFault)fault)));
  return TRUE;
}

gboolean cw_job_read_volts(CwRecord *vehicle, const CwRecording *recording, guint channel, double volts,
                           gint64 lead, CwVoltsToneReading *reading, GError **error)
{
  CwVoltsToneReading own = {0};
  gboolean good = cw_job_hear_volts_tone(recording, channel, &own, error);
  double full_scale = M_SQRT2 * volts / own.amplitude;

  if (reading)
    *reading = own;
  if (!good)
    return FALSE;
  if (!(volts >= LEAST_VOLTS && volts <= MOST_VOLTS))
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING,
                         _("the multimeter's reading must be from %g to %g V AC"), LEAST_VOLTS, MOST_VOLTS);
  if (!(full_scale >= LEAST_FULL_SCALE_V && full_scale <= MOST_FULL_SCALE_V))
    return cw_job_refuse(
        error, CW_JOB_ERROR_RECORDING,
        _("%.3g V on the meter would make %.3g V at full scale, which no recorder has: check "
          "the meter's range, and that it was on this lead"),
        volts, full_scale);
  CwRecord *record = cw_vehicle_make_volts_reading(vehicle), *survey = cw_vehicle_get_survey(vehicle);
  cw_volts_reading_set_lead(record, lead);
  cw_volts_reading_set_volts(record, volts);
  cw_volts_reading_set_tone_dbfs(record, 20 * log10(own.amplitude));
  cw_volts_reading_set_volts_per_full_scale(record, full_scale);
  if (survey)
    cw_job_scale_survey(survey, full_scale);
  cw_job_review(vehicle);
  return TRUE;
}
