/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/cable_choice.h"

#include "electrics/fuse.h"
#include "electrics/rating.h"
#include <math.h>

CwCableChoice cw_choose_cable(double current_a, double one_way_m, CwMaterial material, double most_drop_v)
{
  CwCableChoice choice = {.size_mm2 = NAN,
                          .fuse_a = cw_fuse_for(current_a),
                          .ohm_per_km = NAN,
                          .drop_v = NAN,
                          .rating_a = NAN,
                          .least_for_drop_mm2 = NAN,
                          .least_for_fuse_mm2 = NAN};
  const double *sizes;
  size_t n_sizes = cw_cable_sizes(&sizes);
  if (!(current_a > 0)) { /* nothing to feed yet */
    choice.fuse_a = NAN;
    return choice;
  }
  for (size_t i = n_sizes; i-- > 0;) {
    double size = sizes[i];
    if (cw_two_way_drop_v(cw_cable_ohm_per_km(size, material, 20), one_way_m, current_a) <= most_drop_v)
      choice.least_for_drop_mm2 = size;
    if (cw_cable_rating(size, material).current_a >= choice.fuse_a)
      choice.least_for_fuse_mm2 = size;
  }
  if (isnan(choice.least_for_drop_mm2) || isnan(choice.least_for_fuse_mm2))
    return choice;
  choice.size_mm2 = fmax(choice.least_for_drop_mm2, choice.least_for_fuse_mm2);
  choice.ohm_per_km = cw_cable_ohm_per_km(choice.size_mm2, material, 20);
  choice.drop_v = cw_two_way_drop_v(choice.ohm_per_km, one_way_m, current_a);
  choice.rating_a = cw_cable_rating(choice.size_mm2, material).current_a;
  return choice;
}
