/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/fft.h"
#include "signal/random.h"
#include <string.h>

static double *random_signal(size_t count, uint64_t seed)
{
  CwRandom random = cw_random_new(seed);
  double *samples = cw_alloc_real(count);
  for (size_t i = 0; i < count; i++)
    samples[i] = cw_random_normal(&random);
  return samples;
}

static CwComplex naive_bin(const double *samples, size_t count, size_t bin)
{
  CwComplex sum = 0;
  for (size_t i = 0; i < count; i++) {
    double turn = 2 * G_PI * (double)((bin * i) % count) / (double)count;
    sum += samples[i] * (cos(turn) - I * sin(turn));
  }
  return sum;
}

/* Against the definition, for all short lengths, primes and a few products. */
static void test_definition(void)
{
  for (size_t count = 1; count <= 210; count += count < 40 ? 1 : 17) {
    double *samples = random_signal(count, count);
    CwComplex *bins = cw_alloc_complex(count / 2 + 1);
    cw_fft_forward(cw_fft_get(count), samples, bins);
    for (size_t k = 0; k <= count / 2; k++)
      check_below("difference from the definition", cabs(bins[k] - naive_bin(samples, count, k)),
                  1e-12 * (double)count);
    cw_free(samples);
    cw_free(bins);
  }
}

static void test_round_trip(void)
{
  static const size_t counts[] = {1, 2, 3, 64, 101, 1000, 4099, 65536};

  for (size_t c = 0; c < G_N_ELEMENTS(counts); c++) {
    size_t count = counts[c];
    double *samples = random_signal(count + 1, c), *back = cw_alloc_real(count + 1);
    CwComplex *bins = cw_alloc_complex(count / 2 + 1);
    for (size_t offset = 0; offset < 2; offset++) { /* the second time from arrays that are not aligned */
      cw_fft_forward(cw_fft_get(count), samples + offset, bins);
      cw_fft_inverse(cw_fft_get(count), bins, back + offset);
      for (size_t i = 0; i < count; i++)
        check_below("round trip", fabs(back[i + offset] - samples[i + offset]), 1e-13);
    }
    cw_free(samples);
    cw_free(back);
    cw_free(bins);
  }
}

/* Energy is the same on both sides (Parseval), and a delay turns phases. */
static void test_theorems(void)
{
  const size_t count = 1200, delay = 37;
  double *samples = random_signal(count, 5), *moved = cw_alloc_real(count), energy = 0, bins_energy = 0;
  CwComplex *bins = cw_alloc_complex(count / 2 + 1), *moved_bins = cw_alloc_complex(count / 2 + 1);

  for (size_t i = 0; i < count; i++) {
    moved[(i + delay) % count] = samples[i];
    energy += samples[i] * samples[i];
  }
  cw_fft_forward(cw_fft_get(count), samples, bins);
  cw_fft_forward(cw_fft_get(count), moved, moved_bins);
  for (size_t k = 0; k <= count / 2; k++) {
    bins_energy += (k == 0 || k == count / 2 ? 1 : 2) * creal(bins[k] * conj(bins[k])) / (double)count;
    double turn = 2 * G_PI * (double)((k * delay) % count) / (double)count;
    check_below("delayed", cabs(moved_bins[k] - bins[k] * (cos(turn) - I * sin(turn))), 1e-11);
  }
  check_below("energy", fabs(bins_energy / energy - 1), 1e-13);
  cw_free(samples);
  cw_free(moved);
  cw_free(bins);
  cw_free(moved_bins);
}

static void test_convolve(void)
{
  for (int round = 0; round < 30; round++) {
    size_t count_a = (size_t)g_test_rand_int_range(1, 60), count_b = (size_t)g_test_rand_int_range(1, 60),
           count = count_a + count_b - 1;
    double *a = random_signal(count_a, (uint64_t)round), *b = random_signal(count_b, 100 + (uint64_t)round),
           *out = cw_alloc_real(count);
    cw_convolve(a, count_a, b, count_b, out);
    for (size_t n = 0; n < count; n++) {
      double sum = 0;
      for (size_t i = 0; i < count_a; i++)
        sum += n >= i && n - i < count_b ? a[i] * b[n - i] : 0;
      check_below("convolution", fabs(out[n] - sum), 1e-12);
    }
    cw_free(a);
    cw_free(b);
    cw_free(out);
  }
}

static void test_complex(void)
{
  const size_t count = 90;
  CwRandom random = cw_random_new(3);
  CwComplex *array = cw_alloc_complex(92), kept[90];

  for (size_t offset = 0; offset < 2; offset++) { /* the second time an array that is not aligned */
    CwComplex *values = (CwComplex *)((double *)array + offset);
    for (size_t i = 0; i < count; i++)
      values[i] = kept[i] = cw_random_normal(&random) + I * cw_random_normal(&random);
    cw_fft_complex(values, count, -1);
    for (size_t k = 0; k < count; k++) {
      CwComplex sum = 0;
      for (size_t i = 0; i < count; i++)
        sum += kept[i] * cexp(-2 * G_PI * I * (double)((i * k) % count) / (double)count);
      check_below("complex transform", cabs(values[k] - sum), 1e-11);
    }
    cw_fft_complex(values, count, 1);
    for (size_t i = 0; i < count; i++)
      check_below("complex round trip", cabs(values[i] / (double)count - kept[i]), 1e-13);
  }
  cw_free(array);
}

static gboolean is_good(size_t length)
{
  for (size_t prime = 2; prime <= 5; prime++)
    while (length % prime == 0)
      length /= prime;
  return length == 1;
}

static void test_good_length(void)
{
  for (size_t count = 0; count < 3000; count++) {
    size_t good = cw_fft_good_length(count);
    g_assert_cmpuint(good, >=, count);
    g_assert_true(good % 2 == 0 && is_good(good));
    for (size_t between = count < 2 ? 2 : count; between < good; between++)
      g_assert_false(between % 2 == 0 && is_good(between));
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/fft/definition", test_definition);
  g_test_add_func("/fft/round-trip", test_round_trip);
  g_test_add_func("/fft/theorems", test_theorems);
  g_test_add_func("/fft/convolve", test_convolve);
  g_test_add_func("/fft/complex", test_complex);
  g_test_add_func("/fft/good-length", test_good_length);
  return g_test_run();
}
