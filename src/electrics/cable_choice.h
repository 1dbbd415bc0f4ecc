/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "electrics/cable.h"

/* A cable and a fuse for a current, with the numbers that led there. */
typedef struct {
  double size_mm2;                               /* NAN if no standard size will do, or there is no current */
  double fuse_a;                                 /* NAN if the current is above the largest fuse, or none */
  double ohm_per_km;                             /* of that size */
  double drop_v;                                 /* there and back, at the current */
  double rating_a;                               /* of that size */
  double least_for_drop_mm2, least_for_fuse_mm2; /* which of the two decided */
} CwCableChoice;

/* The fuse: the smallest standard one not below the current (electrics/fuse.h). The cable: the smallest
 * standard size that loses at most most_drop_v (V) over one_way_m (m) there and back at 20 degrees C, and
 * whose rating (electrics/rating.h) is not below the fuse, since the fuse protects the cable. For a current
 * that is not above 0 all is NAN. */
CwCableChoice cw_choose_cable(double current_a, double one_way_m, CwMaterial material, double most_drop_v);
