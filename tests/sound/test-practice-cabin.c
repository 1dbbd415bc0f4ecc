/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How sound gets through the practice bay's cabin, and the convolution that carries it. */
#include "signal/fft.h"
#include "simulator/convolver.h"
#include "simulator/practice_cabin.h"
#include "simulator/practice_drive.h"

#include <math.h>

static double distance_m(const CwPracticePoint *a, const CwPracticePoint *b)
{
  return sqrt(pow(a->x_m - b->x_m, 2) + pow(a->y_m - b->y_m, 2) + pow(a->z_m - b->z_m, 2));
}

static const CwPracticeCabin *cabin_of(const char *name, CwPracticeCar **car)
{
  *car = cw_practice_car_built_in(name);
  g_assert_nonnull(*car);
  return &(*car)->cabin;
}

/* The direct sound alone: where walls take nearly everything, the response is 1 / r at r / c. */
static void test_direct_sound(void)
{
  CwPracticeCabin cabin = {4, 3, 2, {{0}}, {0}};
  for (int i = 0; i < CW_SURFACES; i++)
    for (int k = 0; k < CW_PRACTICE_BANDS; k++)
      cabin.absorption[i][k] = 0.9999999999;
  CwPracticeSource source = {{0.5, 3.1, 0.7}, {0, 0, 0}, 0};
  CwPracticePoint microphone = {2.2, 1.4, 1.1};
  enum { LENGTH = 4096 };
  const double rate_hz = 96000;
  double *response = cw_alloc_real(LENGTH);
  cw_practice_impulse(&cabin, &source, &microphone, rate_hz, LENGTH, response);
  CwComplex *bin = cw_alloc_complex(LENGTH / 2 + 1);
  cw_fft_forward(cw_fft_get(LENGTH), response, bin);
  double metres = distance_m(&source.at, &microphone);
  for (int k = 10; k < LENGTH / 2 * 0.85; k++) {
    /* A delay of r / c and a gain of 1 / r, exactly. */
    CwComplex expected =
        cexp(-2 * G_PI * I * k / LENGTH * metres / CW_SPEED_OF_SOUND_M_PER_S * rate_hz) / metres;
    g_assert_cmpfloat(cabs(bin[k] - expected) * metres, <, 1e-3);
  }
  cw_free(response);
  cw_free(bin);
}

/* Sound takes the same way back: source and microphone exchanged give the same response. */
static void test_reciprocity(void)
{
  CwPracticeCar *car;
  const CwPracticeCabin *cabin = cabin_of("rowan-van", &car);
  CwPracticePoint a = {0.3, 1.5, 0.4}, b = {1.2, 0.7, 1.0};
  CwPracticeSource from_a = {a, {0, 0, 0}, 0}, from_b = {b, {0, 0, 0}, 0};
  enum { LENGTH = 6000 };
  double *there = cw_alloc_real(LENGTH), *back = cw_alloc_real(LENGTH), most = 0;
  cw_practice_impulse(cabin, &from_a, &b, 48000, LENGTH, there);
  cw_practice_impulse(cabin, &from_b, &a, 48000, LENGTH, back);
  for (int i = 0; i < LENGTH; i++) {
    most = fmax(most, fabs(there[i]));
    g_assert_cmpfloat(fabs(there[i] - back[i]), <, 1e-9);
  }
  g_assert_cmpfloat(most, >, 0.3);
  cw_free(there);
  cw_free(back);
  cw_practice_car_free(car);
}

static double energy(const double *sample, int from, int to)
{
  double sum = 0;
  for (int i = from; i < to; i++)
    sum += sample[i] * sample[i];
  return sum;
}

/* Energy dies away: each 10 ms holds less than the 10 ms before. The decay lies between that of the slowest
 * way (to and fro along the longest side) and that of an even field (C. F. Eyring, J. Acoust. Soc. Am. 1,
 * 1930). */
static void test_decay(void)
{
  CwPracticeCabin cabin = {2.6, 1.5, 1.2, {{0}}, {0}};
  const double absorption = 0.3;
  for (int i = 0; i < CW_SURFACES; i++)
    for (int k = 0; k < CW_PRACTICE_BANDS; k++)
      cabin.absorption[i][k] = absorption;
  CwPracticeSource source = {{0.3, 0.4, 0.3}, {0, 0, 0}, 0};
  CwPracticePoint microphone = {1.1, 1.7, 0.9};
  enum { LENGTH = 4096, PART = 480 };
  double *response = cw_alloc_real(LENGTH);
  cw_practice_impulse(&cabin, &source, &microphone, 48000, LENGTH, response);
  for (int part = 1; part < 6; part++)
    g_assert_cmpfloat(energy(response, (part + 1) * PART, (part + 2) * PART), <,
                      energy(response, part * PART, (part + 1) * PART));
  double early = energy(response, PART, 2 * PART), late = energy(response, 5 * PART, 6 * PART);
  double decay_db_per_s = 10 * log10(early / late) / (4 * PART / 48000.0);
  double volume = 2.6 * 1.5 * 1.2, surface = 2 * (2.6 * 1.5 + 2.6 * 1.2 + 1.5 * 1.2);
  double eyring_db_per_s =
      10 * log10(exp(1)) * CW_SPEED_OF_SOUND_M_PER_S * surface * -log(1 - absorption) / (4 * volume);
  double slowest_db_per_s = CW_SPEED_OF_SOUND_M_PER_S / 2.6 * -10 * log10(1 - absorption);
  g_assert_cmpfloat(decay_db_per_s, >, slowest_db_per_s);
  g_assert_cmpfloat(decay_db_per_s, <, eyring_db_per_s);
  cw_free(response);
}

/* Partitioned convolution against the sum that defines it. */
static void test_convolver(void)
{
  enum { BLOCK = 32, LENGTH = 150, BLOCKS = 9, SOURCES = 2 };
  CwConvolver *convolver = cw_convolver_new(SOURCES, LENGTH, BLOCK);
  double response[SOURCES][LENGTH], input[SOURCES][BLOCK * BLOCKS], output[BLOCK * BLOCKS];
  CwPracticeNoise noise = {7};
  for (int s = 0; s < SOURCES; s++) {
    for (int i = 0; i < LENGTH; i++)
      response[s][i] = cw_practice_noise_next(&noise);
    /* Silence in the middle: skipped parts must not be forgotten ones. */
    for (int i = 0; i < BLOCK * BLOCKS; i++)
      input[s][i] = i / BLOCK >= 2 && i / BLOCK < 5 ? 0 : cw_practice_noise_next(&noise);
    cw_convolver_set(convolver, (guint)s, response[s]);
  }
  for (int block = 0; block < BLOCKS; block++) {
    for (int s = 0; s < SOURCES; s++)
      cw_convolver_put(convolver, (guint)s, input[s] + block * BLOCK);
    cw_convolver_run(convolver, output + block * BLOCK);
  }
  for (int i = 0; i < BLOCK * BLOCKS; i++) {
    double sum = 0;
    for (int s = 0; s < SOURCES; s++)
      for (int k = 0; k < LENGTH && k <= i; k++)
        sum += response[s][k] * input[s][i - k];
    g_assert_cmpfloat(fabs(output[i] - sum), <, 1e-10);
  }
  cw_convolver_free(convolver);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/cabin/direct-sound", test_direct_sound);
  g_test_add_func("/cabin/reciprocity", test_reciprocity);
  g_test_add_func("/cabin/decay", test_decay);
  g_test_add_func("/cabin/convolver", test_convolver);
  return g_test_run();
}
