/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/memory.h"
#include <stdbool.h>

/* A take's impulse response as it is kept, with what is needed to look for the first sound in it. */
typedef struct {
  const float *samples; /* frames values */
  size_t frames;
  double rate_hz;
  double low_hz, high_hz;        /* the sweep's ends */
  const double *snr_hz, *snr_db; /* how far each band stood above the noise, snr_count rising frequencies;
                                    where it is 0, the whole sweep counts as clear of noise */
  size_t snr_count;
} CwEdgeSource;

/* The response with the speaker's own colour taken off, so that each sound that arrives is one short pulse.
 */
typedef struct {
  double rate_hz;         /* finer than the source's */
  size_t count;           /* values of each of the two arrays, which go round in a ring */
  double *response;       /* in the source's time, from its first sample on */
  double *pulse;          /* what a single sound at time 0 would leave, peak 1 */
  double low_hz, high_hz; /* the band that the speaker plays clear of noise */
} CwWhitened;

/* Divides the response by the minimum phase of its own magnitude, smoothed over an octave: that is what the
 * speaker does to its sound, while reflections, which are finer than an octave, stay in time where they were.
 * Only the band within 30 dB of the top and 10 dB clear of noise is used; it begins and ends softly and
 * without a phase of its own. False where no band is usable; nothing is to be freed then. Else free with
 * cw_whitened_clear(). */
bool cw_whiten(const CwEdgeSource *source, CwWhitened *whitened);
void cw_whitened_clear(CwWhitened *whitened);
