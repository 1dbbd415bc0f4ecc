/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/kaiser.h"
#include <math.h>

/* The modified Bessel function of order 0 by its power series, which converges for every x. */
static double bessel_i0(double x)
{
  double term = 1, sum = 1;

  for (int k = 1; term > 1e-17 * sum; k++) {
    term *= x * x / (4.0 * k * k);
    sum += term;
  }
  return sum;
}

double cw_kaiser_window(double place, double beta)
{
  double inside = 1 - place * place;
  return inside > 0 ? bessel_i0(beta * sqrt(inside)) / bessel_i0(beta) : 0;
}
