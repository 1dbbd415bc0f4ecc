/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stdint.h>

/* A small generator of random numbers, the same on every machine for the same seed (SplitMix: Steele, Lea and
 * Flood, OOPSLA 2014). For noise and experiments, not for secrets. */
typedef struct {
  uint64_t state;
} CwRandom;

/* A generator whose numbers follow from the seed alone, the same on every machine. */
CwRandom cw_random_new(uint64_t seed);

/* The next 64 bits, all equally likely. */
uint64_t cw_random_bits(CwRandom *random);

/* Evenly spread over 0 (inclusive) to 1 (exclusive). */
double cw_random_uniform(CwRandom *random);

/* Gaussian, mean 0, standard deviation 1 (Box and Muller, 1958). */
double cw_random_normal(CwRandom *random);
