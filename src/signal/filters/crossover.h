/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/section.h"

typedef enum {
  CW_FILTER_BUTTERWORTH,    /* orders 1 to 8 */
  CW_FILTER_LINKWITZ_RILEY, /* orders 2, 4, 6, 8 */
  CW_FILTER_BESSEL,         /* orders 1 to 8, normalised so that the corner is at -3.01 dB */
  CW_FILTER_BESSEL_PHASE,   /* ... so that the phase at the corner is that of a Butterworth filter */
  CW_FILTER_BESSEL_DELAY,   /* ... so that the group delay at 0 Hz is 1 / (2 pi corner) seconds */
  CW_FILTER_FAMILIES,
} CwFilterFamily;

typedef enum { CW_LOW_PASS, CW_HIGH_PASS } CwPass;

#define CW_CROSSOVER_MOST_SECTIONS 4

/* The name in files ("butterworth", "linkwitz-riley", "bessel" ...), and back; CW_FILTER_FAMILIES for an
 * unknown name. */
const char *cw_filter_family_name(CwFilterFamily family);
CwFilterFamily cw_filter_family_from_name(const char *name);

/* The sections of a low-pass or high-pass of the family and order with its corner at corner_hz, by the
 * bilinear transform with pre-warping. coefficients takes CW_CROSSOVER_MOST_SECTIONS; sections, if not NULL,
 * is told what each is: kind, frequency and Q. Returns how many there are; 0 where order, corner or rate are
 * out of range. */
size_t cw_crossover_design(CwFilterFamily family, CwPass pass, int order, double corner_hz, double rate_hz,
                           CwCoefficients *coefficients, CwSection *sections);
