/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/timing.h"

#define CW_IMPULSE_WINDOW_SECONDS 0.5 /* from the peak to the end of the cut */

/* One speaker's impulse response at the microphone, cut out of a deconvolved take. */
typedef struct {
  double rate_hz;      /* samples in a second of the player's clock */
  double first_frame;  /* of the cut in the deconvolved response: recorder samples after an undelayed sweep's
                          start at frame 0 */
  size_t lead_frames;  /* from there to the response's peak */
  size_t window;       /* samples from the first that are not zero */
  size_t length;       /* transform length, window padded with zeros */
  double *samples;     /* length, tapered at both ends, microphone taken off */
  CwComplex *spectrum; /* length / 2 + 1 bins of samples */
  double *noise_power; /* the same bins: what noise alone would add to |spectrum|^2, 1/3-octave mean */
  bool noise_known;    /* there was silence to take it from */
  double peak_over_rest_db; /* of the whole deconvolved response */
} CwImpulse;

/* deconvolved: the whole response, length_all samples; around: where the speaker's arrival is sought, reach
 * samples on. */
void cw_impulse_cut(const CwTakeInput *input, const CwFeedPlace *place, const double *deconvolved,
                    size_t length_all, CwImpulse *impulse);
void cw_impulse_clear(CwImpulse *impulse);
