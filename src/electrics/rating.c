/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/rating.h"

#include <math.h>

#define ROUNDING 1.01 /* 4 gauge is 21.15 mm2 and sold as 21: so much may a written size fall short */

/* 33 CFR 183.425, Table 5, column of 60 degrees C: gauge and allowable current, thin to thick. */
static const struct {
  int gauge;
  double current_a;
} table[] = {{18, 10}, {16, 15}, {14, 20}, {12, 25}, {10, 40},  {8, 55},   {6, 80},  {4, 105},
             {3, 120}, {2, 140}, {1, 165}, {0, 195}, {-1, 225}, {-2, 260}, {-3, 300}};

#define N_TABLE (sizeof table / sizeof table[0])

CwCableRating cw_cable_rating(double size_mm2, CwMaterial material)
{
  CwCableRating rating = {.current_a = NAN, .gauge = table[0].gauge, .provenance = CW_PUBLISHED};
  double thinnest_mm2 = cw_gauge_mm2(table[0].gauge);
  if (!(size_mm2 > 0))
    return rating;
  rating.current_a = table[0].current_a;
  for (size_t i = 1; i < N_TABLE && cw_gauge_mm2(table[i].gauge) <= size_mm2 * ROUNDING; i++) {
    rating.current_a = table[i].current_a;
    rating.gauge = table[i].gauge;
  }
  if (size_mm2 * ROUNDING < thinnest_mm2) {
    rating.current_a *= size_mm2 / thinnest_mm2;
    rating.provenance = CW_DERIVED;
  }
  if (material != CW_COPPER) {
    rating.current_a /= sqrt(cw_material_factor(material));
    rating.provenance = CW_DERIVED;
  }
  return rating;
}
