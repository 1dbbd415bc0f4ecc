/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/microphone.h"
#include "signal/log_grid.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define SPL_AT_FULL_SCALE_UNKNOWN                                                                            \
  124.0 /* a usual measurement microphone at usual gain; common practice, no source */
#define LEAST_CALIBRATOR_DB 60.0
#define MOST_CALIBRATOR_DB 130.0

const CwNumbers *cw_job_microphone_curve(CwRecord *vehicle)
{
  CwRecord *microphone = cw_vehicle_get_microphone(vehicle);
  const CwNumbers *side = microphone ? cw_microphone_get_calibration_90(microphone) : NULL;

  if (!microphone)
    return NULL;
  if (cw_microphone_get_incidence(microphone) == CW_INCIDENCE_90 && side && side->n_rows)
    return side;
  return cw_microphone_get_calibration(microphone);
}

double cw_job_spl_at_full_scale(CwRecord *vehicle, gboolean *known)
{
  CwRecord *microphone = cw_vehicle_get_microphone(vehicle);
  double spl = microphone ? cw_microphone_get_spl_at_full_scale(microphone) : NAN;

  if (known)
    *known = !isnan(spl);
  return isnan(spl) ? SPL_AT_FULL_SCALE_UNKNOWN : spl;
}

void cw_job_set_calibration(CwRecord *vehicle, CwIncidence incidence, const CwNumbers *curve)
{
  CwRecord *microphone = cw_vehicle_make_microphone(vehicle);

  if (incidence == CW_INCIDENCE_90)
    cw_microphone_set_calibration_90(microphone, curve);
  else
    cw_microphone_set_calibration(microphone, curve);
  cw_microphone_set_incidence(microphone, incidence);
}

/* What the microphone's own curve adds at a frequency. */
static double curve_db(CwRecord *vehicle, double at_hz)
{
  const CwNumbers *curve = cw_job_microphone_curve(vehicle);
  guint count = curve ? curve->n_rows : 0;
  g_autofree double *hz = g_new(double, count + 1), *db = g_new(double, count + 1);

  for (guint i = 0; i < count; i++) {
    hz[i] = cw_numbers_at(curve, i, 0);
    db[i] = cw_numbers_at(curve, i, 1);
  }
  return count ? cw_log_grid_interpolate(hz, db, count, at_hz) : 0;
}

gboolean cw_job_set_sensitivity(CwRecord *vehicle, const CwRecording *recording, double level_db_spl,
                                CwCalibratorReading *reading, GError **error)
{
  CwCalibratorReading own = cw_calibrator_read(recording->channel[0], recording->frames, recording->rate_hz);

  if (reading)
    *reading = own;
  if (!(level_db_spl >= LEAST_CALIBRATOR_DB && level_db_spl <= MOST_CALIBRATOR_DB))
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING,
                         _("calibrator: a level from %g to %g dB was expected"), LEAST_CALIBRATOR_DB,
                         MOST_CALIBRATOR_DB);
  for (unsigned fault = 1; fault <= CW_CALIBRATOR_NOISY; fault <<= 1)
    if (own.faults & fault)
      return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, _("calibrator: %s"),
                           _(cw_calibrator_fault_text((CwCalibratorFault)fault)));
  cw_microphone_set_spl_at_full_scale(cw_vehicle_make_microphone(vehicle),
                                      level_db_spl - 20 * log10(own.amplitude) + curve_db(vehicle, own.hz));
  return TRUE;
}

void cw_job_set_microphone(CwRecord *vehicle, CwTakeInput *input, double **hz, double **db)
{
  const CwNumbers *curve = cw_job_microphone_curve(vehicle);

  input->spl_at_full_scale = cw_job_spl_at_full_scale(vehicle, NULL);
  input->calibration_count = curve ? curve->n_rows : 0;
  *hz = g_new(double, input->calibration_count + 1);
  *db = g_new(double, input->calibration_count + 1);
  for (guint i = 0; i < input->calibration_count; i++) {
    (*hz)[i] = cw_numbers_at(curve, i, 0);
    (*db)[i] = cw_numbers_at(curve, i, 1);
  }
  input->calibration_hz = *hz;
  input->calibration_db = *db;
}
