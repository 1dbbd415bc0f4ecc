/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The live spectrum allocates nothing once it is set up: neither where samples are pushed, nor in the worker,
 * nor in the window. The C library's allocator is replaced by one that counts, so that calls from inside the
 * transforms are seen too. */
#include "signal/live/live_spectrum.h"
#include <glib.h>
#include <math.h>
#include <stdlib.h>

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *block, size_t size);
void *__libc_memalign(size_t alignment, size_t size);

static __thread gboolean counting;
static __thread unsigned calls;

void *malloc(size_t size)
{
  calls += counting;
  return __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
  calls += counting;
  return __libc_calloc(count, size);
}

void *realloc(void *block, size_t size)
{
  calls += counting;
  return __libc_realloc(block, size);
}

void *memalign(size_t alignment, size_t size);
void *memalign(size_t alignment, size_t size)
{
  calls += counting;
  return __libc_memalign(alignment, size);
}

int posix_memalign(void **block, size_t alignment, size_t size)
{
  calls += counting;
  *block = __libc_memalign(alignment, size);
  return *block ? 0 : 12;
}

void *aligned_alloc(size_t alignment, size_t size)
{
  calls += counting;
  return __libc_memalign(alignment, size);
}

static void test_counter(void)
{
  void *volatile block;

  calls = 0;
  counting = TRUE;
  block = malloc(17);
  counting = FALSE;
  free(block);
  g_assert_cmpuint(calls, ==, 1);
}

static void check_rate(double rate_hz, int fraction)
{
  CwLiveSpectrum *live = cw_live_spectrum_new(rate_hz, fraction, 20, 20000);
  size_t frames = (size_t)(0.05 * rate_hz), count = cw_live_spectrum_band_count(live);
  float *samples = calloc(frames, sizeof *samples);
  double *level = calloc(count, sizeof *level);
  unsigned updates = 0;

  for (size_t i = 0; i < frames; i++)
    samples[i] = sinf(0.1f * (float)i);
  calls = 0;
  counting = TRUE;
  for (int i = 0; i < 300; i++) { /* 15 s: the narrowest band needs 12 */
    cw_live_spectrum_push(live, samples, 1, frames);
    updates += cw_live_spectrum_update(live);
    cw_live_spectrum_read(live, level, NULL);
  }
  counting = FALSE;
  g_assert_cmpuint(calls, ==, 0);
  g_assert_cmpuint(updates, >, 290);
  g_assert_true(isfinite(level[0]) && isfinite(level[count - 1]));
  cw_live_spectrum_free(live);
  free(samples);
  free(level);
}

static void test_live(void)
{
  check_rate(44100, 3);
  check_rate(48000, 12);
  check_rate(96000, 24);
}

/* An hour of it, as fast as it goes: not one allocation, and the levels still true. */
static void test_hour(void)
{
  const double rate_hz = 48000;
  CwLiveSpectrum *live = cw_live_spectrum_new(rate_hz, 3, 20, 20000);
  size_t frames = (size_t)(0.1 * rate_hz), count = cw_live_spectrum_band_count(live), band = 0;
  float *samples = calloc(frames, sizeof *samples);
  double *level = calloc(count, sizeof *level);

  for (size_t i = 0; i < frames; i++) /* whole periods in a block */
    samples[i] = 0.5f * sinf((float)(2 * G_PI * 1000 / rate_hz * (double)i));
  while (cw_live_spectrum_bands(live)[band].high_hz < 1000)
    band++;
  calls = 0;
  counting = TRUE;
  for (int i = 0; i < 36000; i++) {
    cw_live_spectrum_push(live, samples, 1, frames);
    cw_live_spectrum_update(live);
    cw_live_spectrum_read(live, level, NULL);
  }
  counting = FALSE;
  g_assert_cmpuint(calls, ==, 0);
  g_assert_cmpfloat(fabs(level[band] - (-3.0103 - 6.0206)), <, 0.05);
  cw_live_spectrum_free(live);
  free(samples);
  free(level);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/no-allocation/counter", test_counter);
  g_test_add_func("/no-allocation/live-spectrum", test_live);
  g_test_add_func("/no-allocation/hour", test_hour);
  return g_test_run();
}
