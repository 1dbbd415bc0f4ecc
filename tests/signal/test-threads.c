/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What may be used from several threads at once; meant for the thread checker, and right without it. */
#include "signal/fft.h"
#include "signal/live/live_spectrum.h"
#include "signal/random.h"
#include <glib.h>
#include <math.h>
#include <pthread.h>
#include <stdatomic.h>
#include <time.h>

static void *use_plans(void *seed)
{
  CwRandom random = cw_random_new((uint64_t)(gsize)seed);
  double worst = 0;

  for (int round = 0; round < 60; round++) {
    size_t count = 16 + (size_t)(cw_random_uniform(&random) * 200);
    const CwFft *fft = cw_fft_get(count);
    double *samples = cw_alloc_real(count), *back = cw_alloc_real(count);
    CwComplex *bins = cw_alloc_complex(count / 2 + 1), *values = cw_alloc_complex(count);
    for (size_t i = 0; i < count; i++)
      values[i] = samples[i] = cw_random_normal(&random);
    cw_fft_forward(fft, samples, bins);
    cw_fft_complex(values, count, -1);
    for (size_t i = 0; i <= count / 2; i++)
      worst = fmax(worst, cabs(values[i] - bins[i]));
    cw_fft_inverse(fft, bins, back);
    for (size_t i = 0; i < count; i++)
      worst = fmax(worst, fabs(back[i] - samples[i]));
    cw_free(samples);
    cw_free(back);
    cw_free(bins);
    cw_free(values);
  }
  return worst < 1e-11 ? seed : NULL;
}

static void test_plans(void)
{
  pthread_t threads[4];
  void *result;

  for (gsize i = 0; i < 4; i++)
    g_assert_cmpint(pthread_create(&threads[i], NULL, use_plans, (void *)(i + 1)), ==, 0);
  for (gsize i = 0; i < 4; i++) {
    pthread_join(threads[i], &result);
    g_assert_true(result == (void *)(i + 1));
  }
}

typedef struct {
  CwLiveSpectrum *live;
  atomic_bool stop;
  unsigned updates;
} Session;

static void rest(long milliseconds)
{
  nanosleep(&(struct timespec){0, milliseconds * 1000000}, NULL);
}

static void *push_samples(void *data)
{
  Session *session = data;
  float samples[1024];

  for (size_t at = 0; !atomic_load(&session->stop); at += 1024) {
    for (size_t i = 0; i < 1024; i++)
      samples[i] = (float)sin(2 * G_PI * 1000 * (double)(at + i) / 48000);
    cw_live_spectrum_push(session->live, samples, 1, 1024);
    rest(1);
  }
  return NULL;
}

static void *update_levels(void *data)
{
  Session *session = data;

  while (!atomic_load(&session->stop)) {
    session->updates += cw_live_spectrum_update(session->live);
    rest(3);
  }
  return NULL;
}

/* Every set of levels that is read is whole: the sine's band is at its level as soon as it is there at all.
 */
static void test_live_spectrum(void)
{
  Session session = {.live = cw_live_spectrum_new(48000, 3, 20, 20000)};
  size_t count = cw_live_spectrum_band_count(session.live), band = 0;
  double *level = cw_alloc_real(count), *peak = cw_alloc_real(count);
  pthread_t pusher, worker;
  unsigned seen = 0;

  for (size_t i = 0; i < count; i++)
    if (fabs(cw_live_spectrum_bands(session.live)[i].centre_hz - 1000) < 1)
      band = i;
  pthread_create(&pusher, NULL, push_samples, &session);
  pthread_create(&worker, NULL, update_levels, &session);
  for (int i = 0; i < 3000 && seen < 40; i++) {
    if (cw_live_spectrum_read(session.live, level, peak) && isfinite(level[band])) {
      g_assert_cmpfloat(fabs(level[band] + 3.0103), <, 0.1);
      g_assert_cmpfloat(fabs(peak[band] + 3.0103), <, 0.1);
      seen++;
    }
    rest(1);
  }
  atomic_store(&session.stop, true);
  pthread_join(pusher, NULL);
  pthread_join(worker, NULL);
  g_assert_cmpuint(seen, ==, 40);
  g_assert_cmpuint(session.updates, >=, seen);
  cw_live_spectrum_free(session.live);
  cw_free(level);
  cw_free(peak);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/threads/plans", test_plans);
  g_test_add_func("/threads/live-spectrum", test_live_spectrum);
  return g_test_run();
}
