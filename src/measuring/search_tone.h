/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* A listening aid for finding what rattles: a tone that glides slowly up and down round the frequency that
 * sets it off, while hands press on panels. Made to be looped without a click: it ends in the phase,
 * frequency and amplitude in which it begins. */
typedef struct {
  double low_hz, high_hz;
  double seconds; /* up and down once */
  double level;   /* peak amplitude, full scale 1 */
} CwSearchTone;

/* Round hz by a third of an octave to either side, never below lowest_hz; six seconds; level_dbfs its peak.
 * hz is brought into 20 Hz to 2 kHz. */
CwSearchTone cw_search_tone_design(double hz, double lowest_hz, double level_dbfs);

/* Length of the tone at rate_hz, samples. */
size_t cw_search_tone_frames(const CwSearchTone *tone, double rate_hz);

/* Fills cw_search_tone_frames() samples. */
void cw_search_tone_render(const CwSearchTone *tone, double rate_hz, double *out);

/* The frequency that sounds so many seconds after a beginning of the loop. */
double cw_search_tone_hz(const CwSearchTone *tone, double seconds);
