/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/fft.h"
#include <fftw3.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <string.h>

/* Plans are made when first asked for: a long transform's plan costs more than the transform. */
enum { FORWARD, INVERSE, PLANS };

struct CwFft {
  size_t count;
  _Atomic(fftw_plan) plan[PLANS];
  CwFft *next;
};

/* FFTW's planner is the one part of it that is not safe to call from several threads. */
static pthread_mutex_t planner_lock = PTHREAD_MUTEX_INITIALIZER;
static CwFft *kept_plans;

static fftw_plan make_plan(size_t count, int which)
{
  double *samples = cw_alloc_real(count);
  CwComplex *bins = cw_alloc_complex(count / 2 + 1);
  fftw_plan plan;

  if (which == FORWARD)
    plan = fftw_plan_dft_r2c_1d((int)count, samples, bins, FFTW_ESTIMATE);
  else
    plan = fftw_plan_dft_c2r_1d((int)count, bins, samples, FFTW_ESTIMATE | FFTW_DESTROY_INPUT);
  cw_free(samples);
  cw_free(bins);
  return plan;
}

static fftw_plan get_plan(const CwFft *fft, int which)
{
  _Atomic(fftw_plan) *slot = &((CwFft *)fft)->plan[which];
  fftw_plan plan = atomic_load(slot);

  if (plan)
    return plan;
  pthread_mutex_lock(&planner_lock);
  plan = atomic_load(slot);
  if (!plan) {
    plan = make_plan(fft->count, which);
    atomic_store(slot, plan);
  }
  pthread_mutex_unlock(&planner_lock);
  return plan;
}

const CwFft *cw_fft_get(size_t count)
{
  CwFft *fft;

  pthread_mutex_lock(&planner_lock);
  for (fft = kept_plans; fft && fft->count != count; fft = fft->next)
    ;
  if (!fft) {
    fft = cw_alloc_bytes(sizeof *fft);
    fft->count = count;
    fft->next = kept_plans;
    kept_plans = fft;
  }
  pthread_mutex_unlock(&planner_lock);
  return fft;
}

size_t cw_fft_good_length(size_t count)
{
  for (size_t length = count < 2 ? 2 : count + (count & 1);; length += 2) {
    size_t rest = length;
    while (rest % 2 == 0)
      rest /= 2;
    while (rest % 3 == 0)
      rest /= 3;
    while (rest % 5 == 0)
      rest /= 5;
    if (rest == 1)
      return length;
  }
}

/* Plans for any alignment take twice the time (no vector instructions), and as long again to make: copying is
 * cheaper. */
static bool aligned(const void *array)
{
  return fftw_alignment_of((double *)array) == 0;
}

void cw_fft_forward(const CwFft *fft, const double *samples, CwComplex *bins)
{
  size_t count = fft->count / 2 + 1;
  double *in = aligned(samples) ? (double *)samples : cw_alloc_real(fft->count);
  CwComplex *out = aligned(bins) ? bins : cw_alloc_complex(count);

  if (in != samples)
    memcpy(in, samples, fft->count * sizeof *in);
  fftw_execute_dft_r2c(get_plan(fft, FORWARD), in, out);
  if (in != samples)
    cw_free(in);
  if (out != bins) {
    memcpy(bins, out, count * sizeof *bins);
    cw_free(out);
  }
}

void cw_fft_inverse(const CwFft *fft, CwComplex *bins, double *samples)
{
  size_t count = fft->count / 2 + 1;
  CwComplex *in = aligned(bins) ? bins : cw_alloc_complex(count);
  double *out = aligned(samples) ? samples : cw_alloc_real(fft->count), scale = 1.0 / (double)fft->count;

  if (in != bins)
    memcpy(in, bins, count * sizeof *in);
  fftw_execute_dft_c2r(get_plan(fft, INVERSE), in, out);
  for (size_t i = 0; i < fft->count; i++)
    samples[i] = scale * out[i];
  if (in != bins)
    cw_free(in);
  if (out != samples)
    cw_free(out);
}

void cw_convolve(const double *a, size_t count_a, const double *b, size_t count_b, double *out)
{
  size_t count = count_a + count_b - 1, length = cw_fft_good_length(count);
  const CwFft *fft = cw_fft_get(length);
  double *samples = cw_alloc_real(length);
  CwComplex *bins_a = cw_alloc_complex(length / 2 + 1), *bins_b = cw_alloc_complex(length / 2 + 1);

  memcpy(samples, a, count_a * sizeof *a);
  cw_fft_forward(fft, samples, bins_a);
  memset(samples, 0, length * sizeof *samples);
  memcpy(samples, b, count_b * sizeof *b);
  cw_fft_forward(fft, samples, bins_b);
  for (size_t i = 0; i <= length / 2; i++)
    bins_a[i] *= bins_b[i];
  cw_fft_inverse(fft, bins_a, samples);
  memcpy(out, samples, count * sizeof *out);
  cw_free(samples);
  cw_free(bins_a);
  cw_free(bins_b);
}

void cw_fft_complex(CwComplex *values, size_t count, int sign)
{
  CwComplex *work = aligned(values) ? values : cw_alloc_complex(count);
  fftw_plan plan;

  pthread_mutex_lock(&planner_lock);
  plan = fftw_plan_dft_1d((int)count, work, work, sign, FFTW_ESTIMATE);
  pthread_mutex_unlock(&planner_lock);
  if (work != values)
    memcpy(work, values, count * sizeof *work);
  fftw_execute(plan);
  if (work != values) {
    memcpy(values, work, count * sizeof *work);
    cw_free(work);
  }
  pthread_mutex_lock(&planner_lock);
  fftw_destroy_plan(plan);
  pthread_mutex_unlock(&planner_lock);
}
