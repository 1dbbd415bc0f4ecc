/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/car/band_matrix.h"
#include "signal/log_grid.h"
#include <math.h>

/* Bins first to last with the part of each that lies inside the band. */
typedef struct {
  size_t first, last;
  double first_part, last_part;
} BandBins;

static BandBins bins_of(const CwCar *car, double low_hz, double high_hz)
{
  double bin_hz = car->rate_hz / (double)car->length, low = low_hz / bin_hz + 0.5,
         high = high_hz / bin_hz + 0.5, most = (double)(car->length / 2);
  BandBins b;

  if (high - low < 1) {
    double middle = 0.5 * (low + high);
    low = middle - 0.5;
    high = middle + 0.5;
  }
  high = fmin(high, most);
  b.first = (size_t)low;
  b.last = (size_t)high;
  b.first_part = b.first == b.last ? high - low : (double)b.first + 1 - low;
  b.last_part = high - (double)b.last;
  return b;
}

static void add_place(const CwCar *car, size_t place, const BandBins *b, size_t band, CwBandMatrices *m,
                      double *weight)
{
  size_t n = car->outputs, first = (car->place_seat[place] * m->bands + band) * n * n;
  double total = 0;

  for (size_t k = b->first; k <= b->last; k++)
    total += k == b->first ? b->first_part : k == b->last ? b->last_part : 1;
  for (size_t i = 0; i < n; i++) {
    const CwComplex *hi = car->output[i].response[place];
    for (size_t j = i; hi && j < n; j++) {
      const CwComplex *hj = car->output[j].response[place];
      size_t at = first + i * n + j;
      double real = 0, imaginary = 0, size = 0;
      if (!hj)
        continue;
      for (size_t k = b->first; k <= b->last; k++) {
        double part = k == b->first ? b->first_part : k == b->last ? b->last_part : 1;
        double a = creal(hi[k]), c = cimag(hi[k]), d = creal(hj[k]), e = cimag(hj[k]);
        double re = a * d + c * e, im = c * d - a * e;
        real += part * re;
        imaginary += part * im;
        size += part * sqrt(re * re + im * im);
      }
      m->cross[at] += (real + I * imaginary) / total;
      m->magnitude[at] += size / total;
      weight[at - first] += 1;
    }
  }
}

/* Sums become means, and the lower half the mirrored upper one. */
static void complete(CwBandMatrices *m, size_t first, const double *weight)
{
  size_t n = m->outputs;

  for (size_t i = 0; i < n; i++)
    for (size_t j = i; j < n; j++) {
      size_t at = first + i * n + j, mirrored = first + j * n + i;
      double scale = weight[i * n + j] > 0 ? 1 / weight[i * n + j] : 0;
      m->cross[at] *= scale;
      m->magnitude[at] *= scale;
      m->cross[mirrored] = conj(m->cross[at]);
      m->magnitude[mirrored] = m->magnitude[at];
    }
}

CwBandMatrices *cw_band_matrices_new(const CwCar *car, double low_hz, double high_hz, double per_octave)
{
  CwBandMatrices *m = cw_alloc_bytes(sizeof *m);
  size_t n = car->outputs;
  double *weight = cw_alloc_real(n * n);

  m->bands = cw_log_grid_count(low_hz, high_hz, per_octave);
  m->outputs = n;
  m->seats = car->seats;
  m->per_octave = per_octave;
  m->hz = cw_alloc_real(m->bands);
  m->cross = cw_alloc_complex(m->seats * m->bands * n * n);
  m->magnitude = cw_alloc_real(m->seats * m->bands * n * n);
  cw_log_grid_fill(low_hz, per_octave, m->bands, m->hz);
  for (size_t band = 0; band < m->bands; band++) {
    BandBins b = bins_of(car, m->hz[band] * exp2(-0.5 / per_octave), m->hz[band] * exp2(0.5 / per_octave));
    for (size_t seat = 0; seat < m->seats; seat++) {
      for (size_t k = 0; k < n * n; k++)
        weight[k] = 0;
      for (size_t place = 0; place < car->places; place++)
        if (car->place_seat[place] == seat)
          add_place(car, place, &b, band, m, weight);
      complete(m, (seat * m->bands + band) * n * n, weight);
    }
  }
  cw_free(weight);
  return m;
}

void cw_band_matrices_free(CwBandMatrices *m)
{
  if (!m)
    return;
  cw_free(m->hz);
  cw_free(m->cross);
  cw_free(m->magnitude);
  cw_free(m);
}
