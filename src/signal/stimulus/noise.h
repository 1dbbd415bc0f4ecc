/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>
#include <stdint.h>

/* Pink noise that repeats without a seam: its spectrum has exactly the magnitude 1 / sqrt(frequency) from
 * low_hz to high_hz and nothing outside, with random phases, so that the third-octave levels over one whole
 * round are right by construction and not only on the average. */
typedef struct {
  uint64_t seed;
  double low_hz, high_hz; /* 0 < low < high; high is held to half the rate */
  double rms;             /* over one round, full scale 1 */
  double most_crest_db;   /* peak over rms that is aimed at, from 6 dB; INFINITY to leave the phases as they
                             fall */
} CwPinkNoise;

/* Fills out with one round of frames samples (at least 2 / low_hz seconds). The peaks are lowered by changing
 * phases alone: clip, take the phases, restore the magnitudes, again (van der Ouderaa, Schoukens and
 * Renneboog, IEEE Trans. IM 37, 1988). Returns the crest factor reached, dB: at most most_crest_db unless
 * that is out of reach in the rounds allowed (from about 9 dB on it is in reach). NAN, and silence, where no
 * frequency of the band fits into the round. */
double cw_pink_noise_render(const CwPinkNoise *noise, double rate_hz, size_t frames, double *out);

/* Gaussian white noise of the given standard deviation. */
void cw_white_noise_render(uint64_t seed, double rms, size_t frames, double *out);
