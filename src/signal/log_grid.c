/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/log_grid.h"
#include <math.h>

size_t cw_log_grid_count(double low_hz, double high_hz, double per_octave)
{
  return high_hz < low_hz ? 0 : (size_t)floor(log2(high_hz / low_hz) * per_octave + 1e-9) + 1;
}

double cw_log_grid_hz(double low_hz, double per_octave, size_t index)
{
  return low_hz * exp2((double)index / per_octave);
}

void cw_log_grid_fill(double low_hz, double per_octave, size_t count, double *hz)
{
  for (size_t i = 0; i < count; i++)
    hz[i] = cw_log_grid_hz(low_hz, per_octave, i);
}

double cw_log_grid_interpolate(const double *curve_hz, const double *value, size_t count, double hz)
{
  size_t low = 0, high = count - 1;

  if (count == 0)
    return 0;
  if (hz <= curve_hz[0])
    return value[0];
  if (hz >= curve_hz[high])
    return value[high];
  while (high - low > 1) {
    size_t middle = (low + high) / 2;
    if (curve_hz[middle] <= hz)
      low = middle;
    else
      high = middle;
  }
  return value[low] +
         (value[high] - value[low]) * log(hz / curve_hz[low]) / log(curve_hz[high] / curve_hz[low]);
}
