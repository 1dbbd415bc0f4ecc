/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/recording/hum.h"
#include "signal/memory.h"
#include "signal/normal_equations.h"
#include <math.h>

#define LOW_HZ 45.0
#define HIGH_HZ 65.0
#define LOW_RATE_HZ 900.0 /* leaves the seventh harmonic of 65 Hz where it is */
#define STANDS_OUT 12.0   /* power of a line over what noise alone would give it on the mean */

/* A silence brought to about 1 kHz by means of blocks, its own mean taken off. */
typedef struct {
  double *sample, *at_seconds; /* time of each from frame 0 */
  size_t count;
  double block_seconds;
} Quiet;

static Quiet gather(const double *samples, const CwStretch *silence, size_t silences, double rate_hz)
{
  size_t step = (size_t)fmax(1, floor(rate_hz / LOW_RATE_HZ)), total = 0;
  Quiet q = {.block_seconds = (double)step / rate_hz};

  for (size_t s = 0; s < silences; s++)
    total += silence[s].count / step;
  q.sample = cw_alloc_real(total + 1);
  q.at_seconds = cw_alloc_real(total + 1);
  for (size_t s = 0; s < silences; s++) {
    size_t blocks = silence[s].count / step, from = q.count;
    double mean = 0;
    for (size_t b = 0; b < blocks; b++, q.count++) {
      size_t first = silence[s].first + b * step;
      for (size_t k = 0; k < step; k++)
        q.sample[q.count] += samples[first + k] / (double)step;
      q.at_seconds[q.count] = ((double)first + 0.5 * (double)(step - 1)) / rate_hz;
      mean += q.sample[q.count] / (double)blocks;
    }
    for (size_t i = from; i < q.count; i++)
      q.sample[i] -= mean;
  }
  return q;
}

static void quiet_clear(Quiet *q)
{
  cw_free(q->sample);
  cw_free(q->at_seconds);
}

static double line_power(const Quiet *q, double hz)
{
  CwComplex sum = 0, turn = cexp(-2 * M_PI * I * hz * q->block_seconds), phase = 1;
  double last = -1;

  for (size_t i = 0; i < q->count; i++) {
    if (q->at_seconds[i] - last > 1.5 * q->block_seconds || i == 0)
      phase = cexp(-2 * M_PI * I * hz * q->at_seconds[i]);
    last = q->at_seconds[i];
    sum += q->sample[i] * phase;
    phase *= turn;
  }
  return creal(sum) * creal(sum) + cimag(sum) * cimag(sum);
}

static double all_power(const Quiet *quiet, size_t channels, double hz)
{
  double sum = 0;
  for (size_t c = 0; c < channels; c++)
    sum += line_power(&quiet[c], hz);
  return sum;
}

/* The top between three points of a search, by golden section. */
static double refine(const Quiet *quiet, size_t channels, double low, double high)
{
  const double part = 0.3819660112501051;
  double a = low + part * (high - low), b = high - part * (high - low), pa = all_power(quiet, channels, a),
         pb = all_power(quiet, channels, b);

  while (high - low > 1e-5) {
    if (pa > pb) {
      high = b, b = a, pb = pa, a = low + part * (high - low);
      pa = all_power(quiet, channels, a);
    } else {
      low = a, a = b, pa = pb, b = high - part * (high - low);
      pb = all_power(quiet, channels, b);
    }
  }
  return 0.5 * (low + high);
}

double cw_hum_find(const double *const *channel, size_t channels, const CwStretch *silence, size_t silences,
                   double rate_hz)
{
  Quiet *quiet = cw_alloc_bytes(channels * sizeof *quiet);
  double best_hz = 0, best = 0, noise = 0, span;

  for (size_t c = 0; c < channels; c++) {
    quiet[c] = gather(channel[c], silence, silences, rate_hz);
    for (size_t i = 0; i < quiet[c].count; i++)
      noise += quiet[c].sample[i] * quiet[c].sample[i];
  }
  if (channels > 0 && quiet[0].count > 100) {
    span = quiet[0].at_seconds[quiet[0].count - 1] - quiet[0].at_seconds[0];
    for (double hz = LOW_HZ; hz <= HIGH_HZ; hz += 0.35 / span) {
      double power = all_power(quiet, channels, hz);
      if (power > best) {
        best = power;
        best_hz = hz;
      }
    }
    best_hz =
        best > STANDS_OUT * noise ? refine(quiet, channels, best_hz - 0.35 / span, best_hz + 0.35 / span) : 0;
  }
  for (size_t c = 0; c < channels; c++)
    quiet_clear(&quiet[c]);
  cw_free(quiet);
  return best_hz;
}

CwHum cw_hum_fit(double hz, const double *samples, const CwStretch *silence, size_t silences, double rate_hz)
{
  enum { TERMS = 2 * CW_HUM_HARMONICS };
  CwHum hum = {.hz = hz};
  double step[TERMS], residual_power = 0;

  if (hz <= 0)
    return hum;
  Quiet q = gather(samples, silence, silences, rate_hz);
  CwNormalEquations *e = cw_normal_equations_new(TERMS);
  double *row = cw_alloc_real(q.count * TERMS), *target = cw_alloc_real(q.count);
  for (size_t i = 0; i < q.count; i++) {
    target[i] = -q.sample[i];
    for (int k = 0; k < CW_HUM_HARMONICS; k++) {
      double half = M_PI * hz * (k + 1) * q.block_seconds,
             droop = sin(half) / half; /* of the mean over a block */
      row[i * TERMS + 2 * (size_t)k] = droop * cos(2 * M_PI * hz * (k + 1) * q.at_seconds[i]);
      row[i * TERMS + 2 * (size_t)k + 1] = droop * sin(2 * M_PI * hz * (k + 1) * q.at_seconds[i]);
    }
  }
  cw_normal_equations_add_rows(e, row, target, q.count);
  if (q.count > 4 * TERMS && cw_normal_equations_solve(e, 1e-9, step)) {
    for (size_t i = 0; i < q.count; i++) {
      double rest = q.sample[i];
      for (size_t k = 0; k < TERMS; k++)
        rest -= step[k] * row[i * TERMS + k];
      residual_power += rest * rest / (double)q.count;
    }
    for (int k = 0; k < CW_HUM_HARMONICS; k++) {
      double power = 0.5 * (step[2 * k] * step[2 * k] + step[2 * k + 1] * step[2 * k + 1]);
      bool stands_out = power > STANDS_OUT * 2 * residual_power / (double)q.count;
      hum.cosine[k] = stands_out ? step[2 * k] : 0;
      hum.sine[k] = stands_out ? step[2 * k + 1] : 0;
    }
  }
  cw_normal_equations_free(e);
  cw_free(row);
  cw_free(target);
  quiet_clear(&q);
  return hum;
}

void cw_hum_take_off(const CwHum *hum, double rate_hz, double *samples, size_t frames)
{
  enum { RENEW = 4096 }; /* the turning phase is set right again before rounding shows */

  for (int k = 0; k < CW_HUM_HARMONICS; k++) {
    CwComplex amplitude = hum->cosine[k] - I * hum->sine[k],
              turn = cexp(2 * M_PI * I * hum->hz * (k + 1) / rate_hz), phase = 0;
    if (hum->hz <= 0 || (hum->cosine[k] == 0 && hum->sine[k] == 0))
      continue;
    for (size_t i = 0; i < frames; i++) {
      if (i % RENEW == 0)
        phase = amplitude * cexp(2 * M_PI * I * fmod(hum->hz * (k + 1) * (double)i / rate_hz, 1));
      samples[i] -= creal(phase);
      phase *= turn;
    }
  }
}

double cw_hum_rms(const CwHum *hum)
{
  double power = 0;
  for (int k = 0; k < CW_HUM_HARMONICS; k++)
    power += 0.5 * (hum->cosine[k] * hum->cosine[k] + hum->sine[k] * hum->sine[k]);
  return sqrt(power);
}
