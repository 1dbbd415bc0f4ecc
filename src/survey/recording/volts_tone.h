/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* The steady tone by which a multimeter tells the recorder's volts. 113 Hz: within what every multimeter
 * reads rightly (the least of them from 40 to 400 Hz), in the band of every woofer and full-range lead, and
 * away from the harmonics of 50 and 60 Hz mains. It is as loud as the survey's sweeps, so that volume and
 * input need not be turned for it, and holds whole periods, so that it loops without a seam. */
#define CW_VOLTS_TONE_HZ 113.0
#define CW_VOLTS_TONE_DBFS (-12.0)
#define CW_VOLTS_TONE_SECONDS 20.0
#define CW_VOLTS_TONE_LEAST_SECONDS 2.0 /* that a recording must hold of it */

/* Why a recording of the tone cannot be used; a set. */
typedef enum {
  CW_VOLTS_TONE_SILENT = 1 << 0,
  CW_VOLTS_TONE_CLIPPED = 1 << 1, /* the recorder's full scale was reached */
  CW_VOLTS_TONE_ABSENT = 1 << 2,  /* what is loudest is something else */
  CW_VOLTS_TONE_OFF = 1 << 3,     /* a tone beside it: no player's clock is 400 ppm off */
  CW_VOLTS_TONE_FAINT = 1 << 4,   /* below -60 dB re full scale */
  CW_VOLTS_TONE_SHORT = 1 << 5,   /* no two seconds of it */
  CW_VOLTS_TONE_UNSTEADY = 1 << 6,
  CW_VOLTS_TONE_NOISY = 1 << 7, /* more than a twentieth of what the meter saw is something else */
} CwVoltsToneFault;

#define CW_VOLTS_TONE_LAST_FAULT CW_VOLTS_TONE_NOISY

/* What could not be found is NAN. */
typedef struct {
  unsigned faults;      /* CwVoltsToneFault */
  double ppm;           /* of the tone's frequency, against the recorder's clock */
  double amplitude;     /* peak of the sine, full scale 1, by least squares over the longest steady stretch */
  double seconds;       /* of that stretch */
  double other_percent; /* effective value of all else from 20 Hz on, of the tone's */
} CwVoltsToneReading;

/* Fills out with the tone: lrint(CW_VOLTS_TONE_SECONDS * rate_hz) samples, full scale 1. */
void cw_volts_tone_render(double rate_hz, double *out);

/* Reads the tone from one channel at rate_hz, which may begin and end with silence and hold several rounds of
 * a looping track. Never fails. */
CwVoltsToneReading cw_volts_tone_read(const double *samples, size_t frames, double rate_hz);

/* A sentence for one fault, to be translated: what is wrong and what to do. */
const char *cw_volts_tone_fault_text(CwVoltsToneFault fault);
