/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/response/bands.h"
#include <math.h>

CwBand cw_band(int fraction, int index)
{
  double position = fraction % 2 ? (double)index / fraction : (2.0 * index + 1) / (2.0 * fraction);
  double centre = 1000 * pow(CW_OCTAVE_RATIO, position), half = pow(CW_OCTAVE_RATIO, 0.5 / fraction);
  return (CwBand){centre / half, centre, centre * half};
}

size_t cw_bands_within(int fraction, double low_hz, double high_hz, CwBand *bands, size_t room)
{
  int first = (int)floor(fraction * log(low_hz / 1000) / log(CW_OCTAVE_RATIO)) - 1;
  size_t count = 0;

  for (int index = first;; index++) {
    CwBand band = cw_band(fraction, index);
    if (band.centre_hz > high_hz * (1 + 1e-9))
      return count;
    if (band.centre_hz < low_hz * (1 - 1e-9))
      continue;
    if (count < room)
      bands[count] = band;
    count++;
  }
}

double cw_weighting_pole_hz(int number)
{
  const double low = pow(10, 1.5), high = pow(10, 3.9), reference = 1000, half = sqrt(0.5);
  double r2 = reference * reference, c = low * low * high * high;
  double b = (r2 + c / r2 - half * (low * low + high * high)) / (1 - half);
  double golden = (3 - sqrt(5)) / 2 * pow(10, 2.45), other = (3 + sqrt(5)) / 2 * pow(10, 2.45);

  switch (number) {
  case 1:
    return sqrt((-b - sqrt(b * b - 4 * c)) / 2);
  case 2:
    return golden;
  case 3:
    return other;
  default:
    return sqrt((-b + sqrt(b * b - 4 * c)) / 2);
  }
}

static double a_ratio(double hz)
{
  double f2 = hz * hz, p1 = cw_weighting_pole_hz(1), p2 = cw_weighting_pole_hz(2),
         p3 = cw_weighting_pole_hz(3), p4 = cw_weighting_pole_hz(4);
  return p4 * p4 * f2 * f2 / ((f2 + p1 * p1) * sqrt(f2 + p2 * p2) * sqrt(f2 + p3 * p3) * (f2 + p4 * p4));
}

static double c_ratio(double hz)
{
  double f2 = hz * hz, p1 = cw_weighting_pole_hz(1), p4 = cw_weighting_pole_hz(4);
  return p4 * p4 * f2 / ((f2 + p1 * p1) * (f2 + p4 * p4));
}

double cw_weighting_a_db(double hz)
{
  return 20 * log10(a_ratio(hz) / a_ratio(1000));
}

double cw_weighting_c_db(double hz)
{
  return 20 * log10(c_ratio(hz) / c_ratio(1000));
}
