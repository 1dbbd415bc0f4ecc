/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "check-values.h"
#include "signal/response/bands.h"
#include <math.h>

/* Breakpoint of the mask for 1/fraction octave: mask.omega. */
static inline double mask_breakpoint(double exponent, int fraction)
{
  return 1 + (pow(CW_OCTAVE_RATIO, 0.5 / fraction) - 1) / (sqrt(CW_OCTAVE_RATIO) - 1) *
                 (pow(CW_OCTAVE_RATIO, exponent) - 1);
}

typedef struct {
  double exponent, least, most; /* dB of attenuation */
} MaskPoint;

/* The ten rows of IEC 61260-1:2014 Table 1, class 1; "0.5" stands twice. */
static inline void mask_read(MaskPoint *points)
{
  const double exponents[] = {0, 0.125, 0.25, 0.375, 0.5, 0.5, 1, 2, 3, 4};

  g_assert_cmpuint(check_rows("mask.2014"), ==, G_N_ELEMENTS(exponents));
  for (size_t i = 0; i < G_N_ELEMENTS(exponents); i++)
    points[i] = (MaskPoint){exponents[i], check_cell("mask.2014", i, "cl1 min"),
                            check_cell("mask.2014", i, "cl1 max")};
}

/* Limits at a distance from the centre (ratio above 1), straight lines over log frequency. */
static inline void mask_at(const MaskPoint *points, int fraction, double ratio, double *least, double *most)
{
  size_t i = 0;

  while (i < 8 && ratio > mask_breakpoint(points[i + 1].exponent, fraction))
    i++;
  *least = points[9].least;
  *most = INFINITY;
  if (ratio > mask_breakpoint(4, fraction))
    return;
  double low = log(mask_breakpoint(points[i].exponent, fraction)),
         high = log(mask_breakpoint(points[i + 1].exponent, fraction));
  double share = high > low ? (log(ratio) - low) / (high - low) : 0;
  *least = points[i].least + share * (points[i + 1].least - points[i].least);
  *most = i < 4 ? points[i].most + share * (points[i + 1].most - points[i].most) : INFINITY;
}
