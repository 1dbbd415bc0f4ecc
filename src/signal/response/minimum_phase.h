/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"

/* The minimum-phase response of a magnitude, by the folded real cepstrum (Oppenheim and Schafer,
 * Discrete-Time Signal Processing). magnitude: length / 2 + 1 bins from 0 Hz to half the rate, all above 0
 * (hold or extend it where it is not known before calling); length even. response takes as many bins and may
 * be NULL where only the phase is wanted; phase (radians) may be NULL. */
void cw_minimum_phase(const double *magnitude, size_t length, CwComplex *response, double *phase);
