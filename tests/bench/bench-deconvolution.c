/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Deconvolving a 10 s sweep at 96 kHz against the two bare FFTW transforms that it contains. Prints one line,
 * in milliseconds, and returns 1 where the ratio is above 1.5. */
#include "bench.h"
#include "signal/stimulus/sweep.h"
#include <fftw3.h>
#include <math.h>
#include <stdio.h>

#define RATE_HZ 96000.0
#define RUNS 15

typedef struct {
  CwSweepInverse *inverse;
  double *recording, *response;
  size_t frames;
} Deconvolution;

typedef struct {
  fftw_plan forward, backward;
} Bare;

static void deconvolve(void *data)
{
  Deconvolution *d = data;
  cw_sweep_deconvolve(d->inverse, d->recording, d->frames, d->response);
}

static void transform(void *data)
{
  Bare *bare = data;
  fftw_execute(bare->forward);
  fftw_execute(bare->backward);
}

int main(void)
{
  CwSweep sweep = cw_sweep_design(20, 20000, 10 / log(1000), -12, 0);
  size_t frames = cw_sweep_frames(&sweep, RATE_HZ) + (size_t)RATE_HZ;
  Deconvolution d = {.inverse = cw_sweep_inverse_new(&sweep, RATE_HZ, frames),
                     .recording = cw_alloc_real(frames),
                     .frames = frames};
  size_t length = cw_sweep_inverse_length(d.inverse);
  double *samples = cw_alloc_real(length), best = 1e9, bare_best = 1e9;
  CwComplex *bins = cw_alloc_complex(length / 2 + 1);
  Bare bare = {fftw_plan_dft_r2c_1d((int)length, samples, bins, FFTW_ESTIMATE),
               fftw_plan_dft_c2r_1d((int)length, bins, samples, FFTW_ESTIMATE | FFTW_DESTROY_INPUT)};

  d.response = cw_alloc_real(length);
  cw_sweep_render(&sweep, RATE_HZ, d.recording);
  for (int i = 0; i < RUNS; i++) { /* by turns, so that both see the same machine */
    best = fmin(best, bench_best(deconvolve, &d, 1));
    bare_best = fmin(bare_best, bench_best(transform, &bare, 1));
  }
  printf("deconvolution %.2f ms, bare transforms %.2f ms, ratio %.3f (bar 1.3), length %zu\n", 1e3 * best,
         1e3 * bare_best, best / bare_best, length);
  fftw_destroy_plan(bare.forward);
  fftw_destroy_plan(bare.backward);
  cw_sweep_inverse_free(d.inverse);
  cw_free(d.recording);
  cw_free(d.response);
  cw_free(samples);
  cw_free(bins);
  return best / bare_best > 1.5;
}
