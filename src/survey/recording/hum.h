/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* Mains hum and the like: a steady tone of 45 to 65 Hz with its harmonics, found in a recording's silences
 * and then taken off the whole recording, for it would hide what a lead carries at its frequency. */

#define CW_HUM_HARMONICS 7

typedef struct {
  double hz;                                               /* 0 for none */
  double cosine[CW_HUM_HARMONICS], sine[CW_HUM_HARMONICS]; /* amplitudes, the phase counted from frame 0 */
} CwHum;

typedef struct {
  size_t first, count; /* frames */
} CwStretch;

/* The hum's frequency common to all channels, from their silences; 0 where nothing stands out. */
double cw_hum_find(const double *const *channel, size_t channels, const CwStretch *silence, size_t silences,
                   double rate_hz);

/* Amplitudes of one channel's hum by least squares over its silences; harmonics that do not stand out are
 * left at 0. */
CwHum cw_hum_fit(double hz, const double *samples, const CwStretch *silence, size_t silences, double rate_hz);
void cw_hum_take_off(const CwHum *hum, double rate_hz, double *samples, size_t frames);

/* Root mean square of all of it. */
double cw_hum_rms(const CwHum *hum);
