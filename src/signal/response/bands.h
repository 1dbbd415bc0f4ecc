/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* Fractional-octave bands, base ten, after IEC 61260-1: octave ratio G = 10^(3/10), reference 1 kHz. */
#define CW_OCTAVE_RATIO 1.99526231496887960135

typedef struct {
  double low_hz, centre_hz, high_hz; /* exact */
} CwBand;

/* Band number index of 1/fraction octave (fraction 1 to 48). In odd fractions index 0 is centred on 1 kHz; in
 * even ones 1 kHz is the edge below index 0. */
CwBand cw_band(int fraction, int index);

/* All bands whose centres lie within low_hz to high_hz. Returns how many; writes at most room of them. */
size_t cw_bands_within(int fraction, double low_hz, double high_hz, CwBand *bands, size_t room);

/* Frequency weightings A and C after IEC 61672-1, dB, 0 at 1 kHz. hz above 0. */
double cw_weighting_a_db(double hz);
double cw_weighting_c_db(double hz);

/* The weightings' poles after the same standard's Annex E, Hz: 1 (double, in both), 2 and 3 (A alone), 4
 * (double, in both). */
double cw_weighting_pole_hz(int number);
