/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How sound gets from one place in a box of a cabin to another. */
#pragma once

#include "simulator/practice_car.h"

#define CW_SPEED_OF_SOUND_M_PER_S 343.2

typedef struct {
  CwPracticePoint at, aim;
  double radius_cm; /* 0 radiates evenly */
} CwPracticeSource;

/* Impulse response of `length` samples at rate_hz from the source to the microphone: the direct sound is 1 /
 * metres at metres / speed of sound, followed by its mirror images in the six walls (Allen and Berkley, J.
 * Acoust. Soc. Am. 65, 1979), each with the absorption of the surfaces it met in nine octave bands, until
 * about 90 ms. `response` is added nothing to: it is overwritten. */
void cw_practice_impulse(const CwPracticeCabin *cabin, const CwPracticeSource *source,
                         const CwPracticePoint *microphone, double rate_hz, gsize length, double *response);
