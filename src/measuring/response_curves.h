/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"
#include "signal/response/bands.h"

/* An impulse response as a take keeps it. */
typedef struct {
  const float *samples;
  size_t frames;
  double rate_hz, start_seconds; /* of samples[0] after the timing reference */
  double arrival_seconds;        /* after the same */
} CwKeptImpulse;

/* Its spectrum with only window_seconds after the arrival left in (the last quarter fades; 0 for all) and the
 * arrival taken off the phase. length is set to the transform's; length / 2 + 1 bins, free with cw_free(). */
CwComplex *cw_kept_impulse_spectrum(const CwKeptImpulse *impulse, double window_seconds, size_t *length);

/* Group delay after the arrival, seconds, at count frequencies: -d phase / d omega of the power-weighted mean
 * over 1/fraction octave, which notches do not upset. */
void cw_spectrum_group_delay(const CwComplex *spectrum, size_t length, double rate_hz, int fraction,
                             const double *hz, size_t count, double *seconds);

/* Time to fall by 60 dB in a band, by the slope of the backward-integrated energy (Schroeder, JASA 37, 1965)
 * from 5 dB to 25 dB below its start, as ISO 3382-2 does for 20 dB. NAN where that stretch is not clear of
 * the end. */
double cw_kept_impulse_decay_seconds(const CwKeptImpulse *impulse, const CwBand *band);
