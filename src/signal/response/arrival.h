/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"

typedef struct {
  double seconds;    /* delay of the response against index 0 of its impulse response */
  double polarity;   /* +1 or -1 */
  double confidence; /* 0 to 1: how much of the excess phase, summed over the band, points one way */
} CwArrival;

/* Arrival and polarity from the excess phase over a speaker's own band: the response is divided by the
 * minimum phase of its own magnitude, and the delay sought at which what remains adds up coherently over the
 * band. This takes out what crossovers, resonances and those reflections weaker than the direct sound do to
 * the time, where the highest peak of an impulse response does not. Where the phase does not agree on one
 * delay, and the band is wide enough, the arrival is where the pulse of the excess phase begins, whatever in
 * it is strongest; polarity and confidence stay those of the best sum.
 *
 * spectrum: length / 2 + 1 bins of an impulse response of length samples at rate_hz. low_hz, high_hz: where
 * it was measured. usable: for each bin, 0 where noise forbids its use, else 1; NULL for all. Bins more than
 * range_db below the band's top (1/3 octave means) are left out. Without a usable bin confidence is 0. */
CwArrival cw_arrival_find(const CwComplex *spectrum, size_t length, double rate_hz, double low_hz,
                          double high_hz, const double *usable, double range_db);

/* Excess phase as unit vectors: spectrum / |spectrum| with the minimum phase of its magnitude taken off; the
 * magnitude is extended beyond low_hz and high_hz by 12 dB an octave before. excess takes length / 2 + 1
 * bins. */
void cw_excess_phase_vectors(const CwComplex *spectrum, size_t length, double rate_hz, double low_hz,
                             double high_hz, CwComplex *excess);
