/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/filters/weighting_filter.h"
#include <math.h>

#define LEAST_RATE_HZ 44000.0
#define HIGHEST_EDGE 0.47 /* of the rate */
#define PROTOTYPE_ORDER 4

/* (b0 + b1 z^-1) / (1 + a1 z^-1) */
typedef struct {
  double b0, b1, a1;
} FirstOrder;

/* The root inside the unit circle of a factor whose squared magnitude goes as 1 + tilt cos w. */
static double root_of_tilt(double tilt)
{
  return fabs(tilt) < 1e-12 ? tilt / 2 : (1 - sqrt(fmax(0, 1 - tilt * tilt))) / tilt;
}

static FirstOrder match_high_pass(double corner_hz, double rate_hz)
{
  double c = cos(2 * M_PI * corner_hz / rate_hz), nyquist = 0.5 * rate_hz;
  double top = nyquist * nyquist / (nyquist * nyquist + corner_hz * corner_hz), rise = 0.5 * top * (1 - c);
  double a1 = root_of_tilt((rise - 0.5) / (0.5 * c + rise)), gain = sqrt(top) * (1 - a1) / 2;

  return (FirstOrder){gain, -gain, a1};
}

/* Four linear equations by Gauss's elimination with rows exchanged; the right-hand sides are the last column.
 */
static void solve(double system[4][5], double *unknown)
{
  for (int i = 0; i < 4; i++) {
    int best = i;
    for (int r = i + 1; r < 4; r++)
      best = fabs(system[r][i]) > fabs(system[best][i]) ? r : best;
    for (int k = 0; k < 5; k++) {
      double swap = system[i][k];
      system[i][k] = system[best][k];
      system[best][k] = swap;
    }
    for (int r = i + 1; r < 4; r++)
      for (int k = 4; k >= i; k--)
        system[r][k] -= system[i][k] * system[r][i] / system[i][i];
  }
  for (int i = 3; i >= 0; i--) {
    unknown[i] = system[i][4];
    for (int k = i + 1; k < 4; k++)
      unknown[i] -= system[i][k] * unknown[k];
    unknown[i] /= system[i][i];
  }
}

/* The polynomial 1 + p1 z^-1 + p2 z^-2 with its roots inside the unit circle whose squared magnitude goes as
 * c0 + c1 x + c2 x^2, x = cos w: each root x of that stands for a pair z, 1/z with z + 1/z = 2 x. */
static void inner_polynomial(double c0, double c1, double c2, double *p1, double *p2)
{
  CwComplex spread = csqrt(c1 * c1 - 4 * c2 * c0), z[2];

  for (int i = 0; i < 2; i++) {
    CwComplex x = (-c1 + (i ? -spread : spread)) / (2 * c2), root = csqrt(x * x - 1);
    z[i] = cabs(x - root) < 1 ? x - root : x + root;
  }
  *p1 = -creal(z[0] + z[1]);
  *p2 = creal(z[0] * z[1]);
}

/* A double low-pass pole as one section: c0 + c1 x + c2 x^2 over 1 + d1 x + d2 x^2, four points and 0 Hz. */
static CwCoefficients match_double_low_pass(double corner_hz, double rate_hz)
{
  /* Where it is met, besides 0 Hz, in parts of the lower of half the rate and 24 kHz: chosen so that the
   * deviation up to 20 kHz stays below 0.07 dB at any rate from 44 kHz and the numerator has no root on the
   * unit circle. */
  static const double near_limit[4] = {0.45, 0.80, 0.90, 1}, with_room[4] = {0.25, 0.30, 0.70, 0.80};
  const double *at = rate_hz < 47500 ? near_limit : with_room, limit_hz = fmin(rate_hz / 2, 24000);
  double system[4][5], n[4], b1, b2, a1, a2;

  /* With n0 = 1 + d1 + d2 - n1 - n2 (gain 1 at 0 Hz), n0 + n1 x + n2 x^2 = power (1 + d1 x + d2 x^2); unknown
   * n1, n2, d1, d2. */
  for (int i = 0; i < 4; i++) {
    double hz = at[i] * limit_hz, x = cos(2 * M_PI * hz / rate_hz);
    double factor = corner_hz * corner_hz / (hz * hz + corner_hz * corner_hz), power = factor * factor;
    double row[5] = {x - 1, x * x - 1, 1 - power * x, 1 - power * x * x, power - 1};
    for (int k = 0; k < 5; k++)
      system[i][k] = row[k];
  }
  solve(system, n);
  inner_polynomial(1 + n[2] + n[3] - n[0] - n[1], n[0], n[1], &b1, &b2);
  inner_polynomial(1, n[2], n[3], &a1, &a2);
  double gain = (1 + a1 + a2) / (1 + b1 + b2);
  return (CwCoefficients){{gain, gain * b1, gain * b2}, {1, a1, a2}};
}

static CwCoefficients pair(FirstOrder x, FirstOrder y)
{
  return (CwCoefficients){{x.b0 * y.b0, x.b0 * y.b1 + x.b1 * y.b0, x.b1 * y.b1},
                          {1, x.a1 + y.a1, x.a1 * y.a1}};
}

static void normalise(CwCoefficients *cascade, size_t sections, double hz, double rate_hz)
{
  CwComplex response;

  cw_cascade_response(cascade, sections, rate_hz, &hz, 1, false, &response);
  for (int i = 0; i < 3; i++)
    cascade[0].b[i] /= cabs(response);
}

size_t cw_weighting_filter_design(CwWeighting weighting, double rate_hz, CwCoefficients *cascade)
{
  size_t sections = 0;

  if (!(rate_hz >= LEAST_RATE_HZ))
    return 0;
  FirstOrder lowest = match_high_pass(cw_weighting_pole_hz(1), rate_hz);
  cascade[sections++] = match_double_low_pass(cw_weighting_pole_hz(4), rate_hz);
  cascade[sections++] = pair(lowest, lowest);
  if (weighting == CW_WEIGHTING_A)
    cascade[sections++] = pair(match_high_pass(cw_weighting_pole_hz(2), rate_hz),
                               match_high_pass(cw_weighting_pole_hz(3), rate_hz));
  normalise(cascade, sections, 1000, rate_hz);
  return sections;
}

size_t cw_band_filter_design(const CwBand *band, double rate_hz, CwCoefficients *cascade)
{
  if (!(band->low_hz > 0 && band->high_hz > band->low_hz && band->high_hz <= HIGHEST_EDGE * rate_hz))
    return 0;

  double low = tan(M_PI * band->low_hz / rate_hz), high = tan(M_PI * band->high_hz / rate_hz);
  double width = high - low, middle = low * high, centre_hz = atan(sqrt(middle)) * rate_hz / M_PI;
  size_t sections = 0;

  /* Each pole p of the low-pass prototype becomes the two roots of s^2 - p width s + middle. */
  for (int k = 0; k < PROTOTYPE_ORDER / 2; k++) {
    double angle = M_PI * (2 * k + 1) / (2 * PROTOTYPE_ORDER);
    CwComplex half = 0.5 * width * (-sin(angle) + I * cos(angle)), root = csqrt(half * half - middle);
    CwComplex poles[2] = {half + root, half - root};
    for (int i = 0; i < 2; i++) {
      double c1 = -2 * creal(poles[i]),
             c0 = creal(poles[i]) * creal(poles[i]) + cimag(poles[i]) * cimag(poles[i]), a0 = 1 + c1 + c0;
      cascade[sections] =
          (CwCoefficients){{c1 / a0, 0, -c1 / a0}, {1, 2 * (c0 - 1) / a0, (1 - c1 + c0) / a0}};
      normalise(&cascade[sections++], 1, centre_hz, rate_hz);
    }
  }
  return sections;
}
