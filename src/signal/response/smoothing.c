/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/response/smoothing.h"
#include <math.h>

/* Integral of the bins (each held over its own width) from 0 Hz to position, in bins, from the running sums
 * before each bin. */
static double integral(const double *before, const double *value, size_t bins, double position)
{
  double shifted = fmin(fmax(position + 0.5, 0), (double)bins);
  size_t whole = (size_t)shifted;
  return before[whole] + (whole < bins ? value[whole] * (shifted - (double)whole) : 0);
}

void cw_smooth_power(const double *power, size_t bins, double bin_hz, double octaves, const double *centre_hz,
                     size_t count, double *mean)
{
  double *before = cw_alloc_real(bins + 1);

  for (size_t i = 0; i < bins; i++)
    before[i + 1] = before[i] + power[i];
  for (size_t i = 0; i < count; i++) {
    double low = centre_hz[i] * exp2(-octaves / 2) / bin_hz, high = centre_hz[i] * exp2(octaves / 2) / bin_hz;
    if (high - low < 1) { /* narrower than a bin: widen to one, which interpolates between neighbours */
      double middle = 0.5 * (low + high);
      low = middle - 0.5;
      high = middle + 0.5;
    }
    low = fmin(low, (double)bins - 1.5);
    high = fmin(high, (double)bins - 0.5);
    mean[i] = (integral(before, power, bins, high) - integral(before, power, bins, low)) / (high - low);
  }
  cw_free(before);
}

void cw_smooth_complex(const CwComplex *spectrum, size_t bins, double bin_hz, double octaves,
                       const double *centre_hz, size_t count, CwComplex *mean)
{
  double *part = cw_alloc_real(bins), *real = cw_alloc_real(count), *imaginary = cw_alloc_real(count);

  for (size_t i = 0; i < bins; i++)
    part[i] = creal(spectrum[i]);
  cw_smooth_power(part, bins, bin_hz, octaves, centre_hz, count, real);
  for (size_t i = 0; i < bins; i++)
    part[i] = cimag(spectrum[i]);
  cw_smooth_power(part, bins, bin_hz, octaves, centre_hz, count, imaginary);
  for (size_t i = 0; i < count; i++)
    mean[i] = real[i] + I * imaginary[i];
  cw_free(part);
  cw_free(real);
  cw_free(imaginary);
}
