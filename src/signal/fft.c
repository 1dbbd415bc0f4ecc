/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/fft.h"
#include <fftw3.h>
#include <pthread.h>
#include <string.h>

struct CwFft {
  size_t count;
  fftw_plan forward, inverse;                     /* for arrays aligned as fftw_malloc aligns them */
  fftw_plan forward_unaligned, inverse_unaligned; /* for any array */
  CwFft *next;
};

/* FFTW's planner is the one part of it that is not safe to call from several threads. */
static pthread_mutex_t planner_lock = PTHREAD_MUTEX_INITIALIZER;
static CwFft *kept_plans;

static CwFft *plan_new(size_t count)
{
  CwFft *fft = cw_alloc_bytes(sizeof *fft);
  double *samples = cw_alloc_real(count);
  CwComplex *bins = cw_alloc_complex(count / 2 + 1);
  int n = (int)count;

  fft->count = count;
  fft->forward = fftw_plan_dft_r2c_1d(n, samples, bins, FFTW_ESTIMATE);
  fft->inverse = fftw_plan_dft_c2r_1d(n, bins, samples, FFTW_ESTIMATE | FFTW_DESTROY_INPUT);
  fft->forward_unaligned = fftw_plan_dft_r2c_1d(n, samples, bins, FFTW_ESTIMATE | FFTW_UNALIGNED);
  fft->inverse_unaligned = fftw_plan_dft_c2r_1d(n, bins, samples, FFTW_ESTIMATE | FFTW_DESTROY_INPUT | FFTW_UNALIGNED);
  cw_free(samples);
  cw_free(bins);
  return fft;
}

const CwFft *cw_fft_get(size_t count)
{
  CwFft *fft;

  pthread_mutex_lock(&planner_lock);
  for (fft = kept_plans; fft && fft->count != count; fft = fft->next)
    ;
  if (!fft) {
    fft = plan_new(count);
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

static int both_aligned(const void *a, const void *b)
{
  return fftw_alignment_of((double *)a) == 0 && fftw_alignment_of((double *)b) == 0;
}

void cw_fft_forward(const CwFft *fft, const double *samples, CwComplex *bins)
{
  fftw_plan plan = both_aligned(samples, bins) ? fft->forward : fft->forward_unaligned;
  fftw_execute_dft_r2c(plan, (double *)samples, bins);
}

void cw_fft_inverse(const CwFft *fft, CwComplex *bins, double *samples)
{
  fftw_plan plan = both_aligned(samples, bins) ? fft->inverse : fft->inverse_unaligned;
  double scale = 1.0 / (double)fft->count;

  fftw_execute_dft_c2r(plan, bins, samples);
  for (size_t i = 0; i < fft->count; i++)
    samples[i] *= scale;
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
  fftw_plan plan;

  pthread_mutex_lock(&planner_lock);
  plan = fftw_plan_dft_1d((int)count, values, values, sign, FFTW_ESTIMATE | FFTW_UNALIGNED);
  pthread_mutex_unlock(&planner_lock);
  fftw_execute(plan);
  pthread_mutex_lock(&planner_lock);
  fftw_destroy_plan(plan);
  pthread_mutex_unlock(&planner_lock);
}
