/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/random.h"
#include <math.h>

CwRandom cw_random_new(uint64_t seed)
{
  return (CwRandom){seed};
}

uint64_t cw_random_bits(CwRandom *random)
{
  uint64_t mixed = random->state += 0x9e3779b97f4a7c15u;

  mixed = (mixed ^ (mixed >> 30)) * 0xbf58476d1ce4e5b9u;
  mixed = (mixed ^ (mixed >> 27)) * 0x94d049bb133111ebu;
  return mixed ^ (mixed >> 31);
}

double cw_random_uniform(CwRandom *random)
{
  return (double)(cw_random_bits(random) >> 11) * 0x1p-53;
}

double cw_random_normal(CwRandom *random)
{
  double radius = sqrt(-2 * log(1 - cw_random_uniform(random)));
  return radius * cos(2 * M_PI * cw_random_uniform(random));
}
