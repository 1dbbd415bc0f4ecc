/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/fuse.h"

#include <math.h>

/* Up to 80 A the blade fuses of the small, regular and large size, as two public descriptions agree on them.
 * Of bolted fuses, above 80 A, no published list was found: these are what the trade has. */
static const double fuses[] = {1,  2,  3,  4,   5,   7.5, 10,  15,  20,  25,  30,  35,  40,  50,
                               60, 70, 80, 100, 125, 150, 175, 200, 225, 250, 300, 350, 400, 500};

#define N_FUSES (sizeof fuses / sizeof fuses[0])
#define LARGEST_BLADE_A 80
#define UNVERIFIED_BLADE_A 35 /* of the regular size, but in neither description */

size_t cw_fuses(const double **fuses_a)
{
  *fuses_a = fuses;
  return N_FUSES;
}

double cw_fuse_for(double current_a)
{
  for (size_t i = 0; i < N_FUSES; i++)
    if (fuses[i] >= current_a)
      return fuses[i];
  return NAN;
}

CwProvenance cw_fuse_provenance(double fuse_a)
{
  if (fuse_a > LARGEST_BLADE_A)
    return CW_COMMON_PRACTICE;
  return fuse_a == UNVERIFIED_BLADE_A ? CW_FROM_MEMORY : CW_PUBLISHED;
}
