/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* Why a recording of a sound calibrator cannot be used; a set. */
typedef enum {
  CW_CALIBRATOR_SHORT = 1 << 0,   /* less than two seconds */
  CW_CALIBRATOR_SILENT = 1 << 1,  /* nothing there */
  CW_CALIBRATOR_CLIPPED = 1 << 2, /* full scale reached */
  CW_CALIBRATOR_NO_TONE =
      1 << 3, /* what is loudest is not the calibrator's tone, 1 kHz or 250 Hz within 2 % */
  CW_CALIBRATOR_UNSTEADY =
      1 << 4, /* the level moves: it does not sit tight, or was switched within the recording */
  CW_CALIBRATOR_NOISY = 1 << 5, /* more than a tenth of it is something else */
} CwCalibratorFault;

typedef struct {
  unsigned faults; /* CwCalibratorFault */
  double hz;
  double amplitude;     /* of the tone, full scale 1 */
  double spread_db;     /* between the loudest and the faintest quarter of a second */
  double other_percent; /* effective value of all else from 20 Hz on, of the tone's */
} CwCalibratorReading;

/* Reads the tone of a sound calibrator (IEC 60942: 1 kHz, or 250 Hz for a pistonphone) from a recording at
 * rate_hz. Never fails; what could not be found is NAN. */
CwCalibratorReading cw_calibrator_read(const double *samples, size_t frames, double rate_hz);

/* A sentence for one fault: what is wrong and what to do. */
const char *cw_calibrator_fault_text(CwCalibratorFault fault);
