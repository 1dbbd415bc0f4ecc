/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "measuring/calibrator.h"
#include "measuring/take.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* The curve of the vehicle's microphone for the way it points, borrowed; NULL if it has none. */
const CwNumbers *cw_job_microphone_curve(CwRecord *vehicle);

/* The sound pressure level of a sine that just fills the recorder; a usual one where the sheet says nothing,
 * and then *known is FALSE. known may be NULL. */
double cw_job_spl_at_full_scale(CwRecord *vehicle, gboolean *known);

/* Puts a curve into the sheet: incidence CW_INCIDENCE_0 or CW_INCIDENCE_90. The microphone is taken to point
 * that way from now on. */
void cw_job_set_calibration(CwRecord *vehicle, CwIncidence incidence, const CwNumbers *curve);

/* Sets the level at full scale from a recording of a calibrator that gives level_db_spl (94 or 114 as a
 * rule). reading, which may be NULL, is filled in either case. FALSE with CW_JOB_ERROR_RECORDING that says
 * what is wrong with the recording, and nothing is changed. */
gboolean cw_job_set_sensitivity(CwRecord *vehicle, const CwRecording *recording, double level_db_spl,
                                CwCalibratorReading *reading, GError **error);

/* Sets the microphone's calibration and level in an analysis's input; the two arrays are the caller's to free
 * when it is done. */
void cw_job_set_microphone(CwRecord *vehicle, CwTakeInput *input, double **hz, double **db);

G_END_DECLS
