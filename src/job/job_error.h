/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <glib.h>

G_BEGIN_DECLS

#define CW_JOB_ERROR (cw_job_error_quark())
GQuark cw_job_error_quark(void);

typedef enum {
  CW_JOB_ERROR_RECORDING, /* a sound file cannot be read or written, or is not what was expected */
  CW_JOB_ERROR_VEHICLE,   /* the vehicle's record does not allow the step */
  CW_JOB_ERROR_FILE,
  CW_JOB_ERROR_FOREIGN, /* a file that this program did not write stands where one is to be written */
} CwJobError;

/* Sets the error and returns FALSE, so that a refusal is one statement. */
gboolean cw_job_refuse(GError **error, CwJobError code, const char *format, ...) G_GNUC_PRINTF(3, 4);

/* How far a long step is, 0 to 1, and in words; may come from another thread. */
typedef void (*CwProgress)(double part, const char *words, gpointer data);

G_END_DECLS
