/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"

/* Takes out the jumps: adds whole turns so that no step is larger than half a turn. Radians, in place. */
void cw_phase_unwrap(double *phase, size_t count);

/* Phase of a response, radians, unwrapped from the first bin on. */
void cw_phase_of(const CwComplex *response, size_t count, double *phase);

/* Group delay -d phase / d omega of an unwrapped phase in bins bin_hz apart, seconds: central difference,
 * one-sided at both ends. count at least 2. */
void cw_group_delay(const double *phase, size_t count, double bin_hz, double *delay_seconds);

/* Excess phase: the response's phase less that of the minimum-phase response of the same magnitude, radians,
 * unwrapped. response holds length / 2 + 1 bins, length even. Where the magnitude is 0 the phase means
 * nothing; a magnitude that is not known at the ends should be extended by the caller beforehand, for minimum
 * phase depends on all of it. */
void cw_excess_phase(const CwComplex *response, size_t length, double *excess);
