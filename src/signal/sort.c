/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include <math.h>
#include <stdlib.h>

static int rising(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

void cw_sort_rising(double *values, size_t count)
{
  qsort(values, count, sizeof *values, rising);
}

double cw_median(double *values, size_t count)
{
  if (count == 0)
    return NAN;
  cw_sort_rising(values, count);
  return count % 2 ? values[count / 2] : 0.5 * (values[count / 2 - 1] + values[count / 2]);
}
