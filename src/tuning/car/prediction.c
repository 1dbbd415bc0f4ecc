/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/car/prediction.h"
#include "signal/log_grid.h"
#include "signal/response/smoothing.h"
#include "tuning/car/band_matrix.h"
#include <math.h>
#include <string.h>

enum { N = CW_PREDICTION_POINTS };

/* Loops over frequencies run four numbers at a time where the processor can. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) &&     \
    !defined(__SANITIZE_THREAD__)
#define WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WIDE
#endif

/* Real and imaginary parts apart, so that loops over frequencies run along memory. */
typedef struct {
  double re[N], im[N];
} Curve;

struct CwPrediction {
  size_t outputs, places;
  double rate_hz, *mix, *arrival_seconds;
  double hz[N];
  Curve z1, z2;    /* delays of one and two samples */
  Curve *drive;    /* an output */
  Curve *response; /* outputs x places */
  Curve *sum[2];   /* left, right: a place; both is their sum */
  Curve both;
  bool stale; /* the sums do not follow the drives */
  CwBandMatrices *bands;
};

CwPrediction *cw_prediction_new(const CwCar *car, double rate_hz)
{
  CwPrediction *p = cw_alloc_bytes(sizeof *p);
  CwComplex smooth[N];
  double earliest = INFINITY;

  p->outputs = car->outputs;
  p->places = car->places;
  p->rate_hz = rate_hz;
  cw_log_grid_fill(CW_PREDICTION_LOW_HZ, CW_PREDICTION_PER_OCTAVE, N, p->hz);
  p->mix = cw_alloc_real(2 * p->outputs);
  p->arrival_seconds = cw_alloc_real(p->outputs);
  p->drive = cw_alloc_bytes(p->outputs * sizeof *p->drive);
  p->response = cw_alloc_bytes(p->outputs * p->places * sizeof *p->response);
  for (int side = 0; side < 2; side++)
    p->sum[side] = cw_alloc_bytes(p->places * sizeof *p->sum[side]);
  for (size_t i = 0; i < N; i++) {
    double w = 2 * M_PI * p->hz[i] / rate_hz;
    p->z1.re[i] = cos(w), p->z1.im[i] = -sin(w);
    p->z2.re[i] = cos(2 * w), p->z2.im[i] = -sin(2 * w);
  }
  for (size_t o = 0; o < p->outputs; o++)
    earliest = fmin(earliest, car->output[o].arrival_seconds);
  for (size_t o = 0; o < p->outputs; o++) {
    p->mix[2 * o] = car->output[o].mix[0];
    p->mix[2 * o + 1] = car->output[o].mix[1];
    p->arrival_seconds[o] = car->output[o].arrival_seconds - earliest;
    for (size_t place = 0; place < p->places; place++) {
      const CwComplex *measured = car->output[o].response[place];
      Curve *curve = &p->response[o * p->places + place];
      if (!measured)
        continue;
      cw_smooth_complex(measured, car->length / 2 + 1, car->rate_hz / (double)car->length,
                        1.0 / CW_PREDICTION_PER_OCTAVE, p->hz, N, smooth);
      for (size_t i = 0; i < N; i++)
        curve->re[i] = creal(smooth[i]), curve->im[i] = cimag(smooth[i]);
    }
  }
  p->bands = cw_band_matrices_new(car, CW_PREDICTION_LOW_HZ, 20000, CW_PREDICTION_PER_OCTAVE);
  p->stale = true;
  return p;
}

void cw_prediction_free(CwPrediction *p)
{
  if (!p)
    return;
  cw_free(p->mix);
  cw_free(p->arrival_seconds);
  cw_free(p->drive);
  cw_free(p->response);
  cw_free(p->sum[0]);
  cw_free(p->sum[1]);
  cw_band_matrices_free(p->bands);
  cw_free(p);
}

size_t cw_prediction_outputs(const CwPrediction *p)
{
  return p->outputs;
}

size_t cw_prediction_places(const CwPrediction *p)
{
  return p->places;
}

const double *cw_prediction_hz(const CwPrediction *p)
{
  return p->hz;
}

void cw_prediction_set_mix(CwPrediction *p, size_t output, double left, double right)
{
  p->mix[2 * output] = left;
  p->mix[2 * output + 1] = right;
  p->stale = true;
}

/* curve *= b0 + b1 z^-1 + b2 z^-2 */
WIDE static void times_polynomial(Curve *restrict curve, const Curve *restrict z1, const Curve *restrict z2,
                                  double c0, double c1, double c2)
{
  for (size_t i = 0; i < N; i++) {
    double re = c0 + c1 * z1->re[i] + c2 * z2->re[i], im = c1 * z1->im[i] + c2 * z2->im[i];
    double a = curve->re[i], b = curve->im[i];
    curve->re[i] = a * re - b * im;
    curve->im[i] = a * im + b * re;
  }
}

WIDE static void divide(Curve *restrict curve, const Curve *restrict by)
{
  for (size_t i = 0; i < N; i++) {
    double re = by->re[i], im = by->im[i], scale = 1 / (re * re + im * im), a = curve->re[i],
           b = curve->im[i];
    curve->re[i] = (a * re + b * im) * scale;
    curve->im[i] = (b * re - a * im) * scale;
  }
}

/* sum += mix * drive * response */
WIDE static void add_product(Curve *restrict sum, const Curve *restrict drive, const Curve *restrict response,
                             double mix)
{
  for (size_t i = 0; i < N; i++) {
    double a = mix * drive->re[i], b = mix * drive->im[i], c = response->re[i], d = response->im[i];
    sum->re[i] += a * c - b * d;
    sum->im[i] += a * d + b * c;
  }
}

/* Rotation by a delay, built up from one step of the grid to the next would drift; the grid is not even, so
 * each point is computed. */
static void start_curve(const CwPrediction *p, Curve *curve, double gain, double seconds)
{
  for (size_t i = 0; i < N; i++) {
    double angle = -2 * M_PI * p->hz[i] * seconds;
    curve->re[i] = gain * cos(angle);
    curve->im[i] = gain * sin(angle);
  }
}

void cw_prediction_set_drive(CwPrediction *p, size_t output, const CwCoefficients *cascade, size_t sections,
                             double gain, double delay_seconds)
{
  Curve under;

  start_curve(p, &p->drive[output], gain, delay_seconds + p->arrival_seconds[output]);
  for (size_t i = 0; i < N; i++)
    under.re[i] = 1, under.im[i] = 0;
  for (size_t k = 0; k < sections; k++) {
    times_polynomial(&p->drive[output], &p->z1, &p->z2, cascade[k].b[0], cascade[k].b[1], cascade[k].b[2]);
    times_polynomial(&under, &p->z1, &p->z2, 1, cascade[k].a[1], cascade[k].a[2]);
  }
  divide(&p->drive[output], &under);
  p->stale = true;
}

void cw_prediction_change_section(CwPrediction *p, size_t output, const CwCoefficients *before,
                                  const CwCoefficients *after)
{
  Curve changed = p->drive[output], under;

  for (size_t i = 0; i < N; i++)
    under.re[i] = 1, under.im[i] = 0;
  times_polynomial(&changed, &p->z1, &p->z2, after->b[0], after->b[1], after->b[2]);
  times_polynomial(&changed, &p->z1, &p->z2, 1, before->a[1], before->a[2]);
  times_polynomial(&under, &p->z1, &p->z2, before->b[0], before->b[1], before->b[2]);
  times_polynomial(&under, &p->z1, &p->z2, 1, after->a[1], after->a[2]);
  divide(&changed, &under);
  for (int side = 0; !p->stale && side < 2; side++) { /* sums that are up to date are moved along */
    double mix = p->mix[2 * output + (size_t)side];
    for (size_t place = 0; mix != 0 && place < p->places; place++) {
      const Curve *response = &p->response[output * p->places + place];
      add_product(&p->sum[side][place], &changed, response, mix);
      add_product(&p->sum[side][place], &p->drive[output], response, -mix);
    }
  }
  p->drive[output] = changed;
}

static void refresh(CwPrediction *p)
{
  for (int side = 0; side < 2; side++) {
    memset(p->sum[side], 0, p->places * sizeof *p->sum[side]);
    for (size_t o = 0; o < p->outputs; o++)
      for (size_t place = 0; p->mix[2 * o + (size_t)side] != 0 && place < p->places; place++)
        add_product(&p->sum[side][place], &p->drive[o], &p->response[o * p->places + place],
                    p->mix[2 * o + (size_t)side]);
  }
  p->stale = false;
}

void cw_prediction_at_place(CwPrediction *p, CwSum sum, size_t place, const double **real,
                            const double **imaginary)
{
  const Curve *curve = &p->both;

  if (p->stale)
    refresh(p);
  if (sum == CW_SUM_BOTH)
    for (size_t i = 0; i < N; i++) {
      p->both.re[i] = p->sum[0][place].re[i] + p->sum[1][place].re[i];
      p->both.im[i] = p->sum[0][place].im[i] + p->sum[1][place].im[i];
    }
  else
    curve = &p->sum[sum][place];
  *real = curve->re;
  *imaginary = curve->im;
}

void cw_prediction_seat_db(const CwPrediction *p, CwSum sum, double *db)
{
  size_t n = p->outputs;

  for (size_t b = 0; b < N; b++) {
    double power = 0;
    for (size_t i = 0; i < n; i++) {
      double mix_i = sum == CW_SUM_BOTH ? p->mix[2 * i] + p->mix[2 * i + 1] : p->mix[2 * i + sum], re = 0,
             im = 0;
      const CwComplex *row = p->bands->cross + (b * n + i) * n;
      if (mix_i == 0)
        continue;
      for (size_t j = i; j < n; j++) { /* the lower half is the upper's mirror image: count it twice */
        double mix_j =
            (sum == CW_SUM_BOTH ? p->mix[2 * j] + p->mix[2 * j + 1] : p->mix[2 * j + sum]) * (j == i ? 1 : 2);
        re += mix_j * (creal(row[j]) * p->drive[j].re[b] + cimag(row[j]) * p->drive[j].im[b]);
        im += mix_j * (cimag(row[j]) * p->drive[j].re[b] - creal(row[j]) * p->drive[j].im[b]);
      }
      power += mix_i * (p->drive[i].re[b] * re - p->drive[i].im[b] * im);
    }
    db[b] = 10 * log10(fmax(power, 0) + 1e-30);
  }
}

void cw_prediction_output_db(const CwPrediction *p, size_t output, double *db)
{
  cw_prediction_drive_db(p, output, db);
  for (size_t b = 0; b < N; b++)
    db[b] += 10 * log10(creal(p->bands->cross[(b * p->outputs + output) * p->outputs + output]) + 1e-30);
}

void cw_prediction_drive_db(const CwPrediction *p, size_t output, double *db)
{
  for (size_t b = 0; b < N; b++)
    db[b] = 10 * log10(p->drive[output].re[b] * p->drive[output].re[b] +
                       p->drive[output].im[b] * p->drive[output].im[b] + 1e-30);
}
