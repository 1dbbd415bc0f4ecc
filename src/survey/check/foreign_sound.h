/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* A sound in a recording that is not the track's, as it stands in a lead's impulse response to a sweep: the
 * track's own sound comes at the lead's delay and shortly after it, whatever else lies well before and after
 * it. */
typedef struct {
  double part;    /* power beside the lead's own over its own, in the twelfth of an octave where it is most; 0
                     where nothing stands out of the noise */
  double hz;      /* of that */
  double seconds; /* how long after the sweep passes that frequency the sound is strongest */
} CwForeignSound;

/* What is looked at: the impulse response as cw_sweep_deconvolve() leaves it, of length samples, which wraps
 * round; peak is the sample of the lead's own arrival. noise_power is the power of noise in a bin of an
 * unscaled transform for each sample under the window, at the count frequencies hz, rising. */
typedef struct {
  const double *response;
  size_t length;
  long peak;
  double rate_hz;
  const double *hz, *noise_power;
  size_t count;
} CwForeignLook;

/* Looks for it over the band that the sweep covers; all fields 0 where nothing stands out. */
CwForeignSound cw_foreign_sound_find(const CwForeignLook *look);
