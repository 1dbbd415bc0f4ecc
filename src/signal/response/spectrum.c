/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/response/spectrum.h"
#include <math.h>
#include <string.h>

static double hann(size_t index, size_t count)
{
  return 0.5 - 0.5 * cos(2 * M_PI * ((double)index + 0.5) / (double)count);
}

size_t cw_welch_power(const double *samples, size_t frames, size_t window, double *power)
{
  size_t bins = window / 2 + 1, hop = window / 2, windows = frames < window ? 1 : (frames - window) / hop + 1;
  double *part = cw_alloc_real(window), *shape = cw_alloc_real(window), weight = 0;
  CwComplex *spectrum = cw_alloc_complex(bins);
  const CwFft *fft = cw_fft_get(window);
  size_t used = frames < window ? frames : window;

  memset(power, 0, bins * sizeof *power);
  for (size_t i = 0; i < used; i++) {
    shape[i] = hann(i, used);
    weight += shape[i] * shape[i];
  }
  for (size_t w = 0; w < windows; w++) {
    for (size_t i = 0; i < used; i++)
      part[i] = shape[i] * samples[w * hop + i];
    cw_fft_forward(fft, part, spectrum);
    for (size_t k = 0; k < bins; k++)
      power[k] += creal(spectrum[k]) * creal(spectrum[k]) + cimag(spectrum[k]) * cimag(spectrum[k]);
  }
  if (weight > 0)
    for (size_t k = 0; k < bins; k++)
      power[k] *= (k == 0 || k == hop ? 1 : 2) / (weight * (double)window * (double)windows);
  cw_free(part);
  cw_free(shape);
  cw_free(spectrum);
  return windows;
}

double cw_band_power(const double *power, size_t bins, double bin_hz, const CwBand *band)
{
  double low = fmin(fmax(band->low_hz / bin_hz + 0.5, 0), (double)bins),
         high = fmin(fmax(band->high_hz / bin_hz + 0.5, 0), (double)bins);
  size_t first = (size_t)low, last = (size_t)high;
  double sum = 0;

  for (size_t k = first; k <= last && k < bins; k++)
    sum += power[k] * (fmin(high, (double)k + 1) - fmax(low, (double)k));
  return sum;
}
