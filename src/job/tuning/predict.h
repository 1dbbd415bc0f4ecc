/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/car/prediction.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* The vehicle's prediction for a seat (NULL for all), from its accepted takes; its tune, if there is one, is
 * set. The car's outputs come in the order of the sheet's speakers. NULL with error where takes are missing.
 * Free with cw_prediction_free(). */
CwPrediction *cw_job_predict(CwProject *project, const char *seat, GError **error);

/* Sets an output's drive from its tune record (CwTuneOutput) and the tune's voicing, bypassed sections left
 * out; index as above. A muted output is silent. rate_hz is the processor's. FALSE with error where a section
 * cannot be made. */
gboolean cw_job_predict_output(CwPrediction *prediction, guint index, CwRecord *tune, CwRecord *output,
                               double rate_hz, GError **error);

/* Sets all outputs of a tune; outputs without a record there are silent. */
gboolean cw_job_predict_tune(CwPrediction *prediction, CwRecord *vehicle, CwRecord *tune, GError **error);

G_END_DECLS
