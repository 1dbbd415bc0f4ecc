/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* Brings samples to half their rate in place and returns how many are left. Zero phase, so sample 0 stays
 * where it is in time; flat to 0.001 dB up to 0.42 of the new rate, what would fold into that band 90 dB
 * down. Recordings at 88.2 kHz and above hold nothing above a 44.1 kHz track's band but noise. */
size_t cw_halve_rate(double *samples, size_t frames);
