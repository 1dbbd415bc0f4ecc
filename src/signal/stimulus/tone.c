/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/stimulus/tone.h"
#include "signal/memory.h"
#include <math.h>

double cw_tone_strongest_hz(const double *samples, size_t frames, double rate_hz, double low_hz)
{
  size_t best = 1;
  double *part = cw_alloc_real(frames);
  CwComplex *bins = cw_alloc_complex(frames / 2 + 1);

  for (size_t i = 0; i < frames; i++)
    part[i] = samples[i] * (0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)frames));
  cw_fft_forward(cw_fft_get(frames), part, bins);
  for (size_t i = (size_t)ceil(low_hz * (double)frames / rate_hz); i < frames / 2; i++)
    if (cabs(bins[i]) > cabs(bins[best]))
      best = i;
  double before = cabs(bins[best - 1]), after = cabs(bins[best + 1]), top = cabs(bins[best]);
  /* Hann: neighbours in the ratio (1 + d) : (2 - d) for a tone d bins away. */
  double away = after > before ? (2 * after - top) / (after + top) : -(2 * before - top) / (before + top);
  cw_free(part);
  cw_free(bins);
  return ((double)best + away) * rate_hz / (double)frames;
}

CwComplex cw_tone_fit(const double *samples, size_t frames, double hz, double rate_hz, double *rest)
{
  double ss = 0, cc = 0, sc = 0, xs = 0, xc = 0, xx = 0;

  for (size_t i = 0; i < frames; i++) {
    double w = 2 * M_PI * hz * (double)i / rate_hz, s = sin(w), c = cos(w);
    ss += s * s;
    cc += c * c;
    sc += s * c;
    xs += samples[i] * s;
    xc += samples[i] * c;
    xx += samples[i] * samples[i];
  }
  double divisor = ss * cc - sc * sc, a = (xs * cc - xc * sc) / divisor, b = (xc * ss - xs * sc) / divisor;
  *rest = fmax(xx - a * xs - b * xc, 0) / (double)frames;
  return b - I * a;
}
