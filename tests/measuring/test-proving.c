/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two outputs compared by their sound. The truth: cabins made of noise that dies away, which have nothing in
 * common unless they are the same; levels and slopes that were put in. */
#include "measuring/proving.h"
#include "signal/random.h"
#include <glib.h>
#include <math.h>
#include <string.h>

#define RATE_HZ 48000.0
#define FRAMES 9600
#define DIRECT 240 /* the frame of the first sound */

typedef struct {
  float samples[FRAMES];
  CwProvingResponse response;
} Cabin;

/* Echoes of a cabin: noise that falls by 60 dB in 0.15 s after one strong first sound. */
static void make(Cabin *cabin, guint64 seed, double gain)
{
  CwRandom random = cw_random_new(seed);

  memset(cabin->samples, 0, sizeof cabin->samples);
  cabin->samples[DIRECT] = (float)gain;
  for (int i = DIRECT + 96; i < FRAMES; i++)
    cabin->samples[i] =
        (float)(gain * 0.05 * cw_random_normal(&random) * pow(10, -3 * (i - DIRECT) / (0.15 * RATE_HZ)));
  cabin->response = (CwProvingResponse){.samples = cabin->samples,
                                        .frames = FRAMES,
                                        .rate_hz = RATE_HZ,
                                        .low_hz = 80,
                                        .high_hz = 16000,
                                        .arrival_seconds = DIRECT / RATE_HZ};
}

/* By the definition of correlation: a response with itself, whatever its level, is 1; two that were drawn
 * apart are 0, but for what 1 / sqrt(number of values) leaves. */
static void test_same(void)
{
  static Cabin one, louder, other;

  make(&one, 3, 1);
  make(&louder, 3, 2.5);
  make(&other, 4, 1);
  g_assert_cmpfloat_with_epsilon(cw_proving_likeness(&one.response, &louder.response), 1, 1e-6);
  g_assert_cmpfloat_with_epsilon(cw_proving_sameness(&one.response, &louder.response), 1, 1e-6);
  g_assert_cmpfloat(cw_proving_likeness(&one.response, &other.response), <, 0.35);
  g_assert_cmpfloat(cw_proving_sameness(&one.response, &other.response), <, 0.98);
}

/* The same sound 20 us later, by its clock, and turned over. */
static void test_shift_and_sign(void)
{
  static Cabin one, other;

  make(&one, 5, 1);
  make(&other, 5, -1);
  other.response.start_seconds += 20e-6;
  other.response.arrival_seconds += 20e-6;
  g_assert_cmpfloat(cw_proving_likeness(&one.response, &other.response), >, 0.98);
}

static void test_levels(void)
{
  static Cabin one, louder;

  make(&one, 6, 1);
  make(&louder, 6, pow(10, 7.0 / 20));
  g_assert_cmpfloat_with_epsilon(cw_proving_louder_db(&louder.response, &one.response), 7, 1e-3);
  g_assert_cmpfloat_with_epsilon(cw_proving_louder_db(&one.response, &louder.response), -7, 1e-3);
  g_assert_cmpfloat_with_epsilon(cw_proving_difference_db(&one.response, &louder.response), 0, 1e-3);
}

/* A difference of neighbouring samples: 20 log10(2 sin(pi f / rate)). The deviation of that over the third
 * octaves from 100 Hz to 12.5 kHz, at their middles, is what the comparison has to find. */
static void test_slope(void)
{
  static Cabin one, sloped;
  double sum = 0, squares = 0;
  int count = 0;

  make(&one, 7, 1);
  make(&sloped, 7, 1);
  for (int i = FRAMES - 1; i > 0; i--)
    sloped.samples[i] -= sloped.samples[i - 1];
  one.response.high_hz = sloped.response.high_hz = 3000;
  one.response.low_hz = sloped.response.low_hz = 560; /* 630 Hz to 2.5 kHz lie within whole */
  for (double hz = 630; hz < 2700; hz *= cbrt(2)) {
    double db = 20 * log10(2 * sin(M_PI * hz / RATE_HZ));
    sum += db;
    squares += db * db;
    count++;
  }
  double deviation = sqrt(squares / count - pow(sum / count, 2));
  g_test_message("slope of %.3f dB: %.3f dB", deviation,
                 cw_proving_difference_db(&one.response, &sloped.response));
  g_assert_cmpfloat_with_epsilon(cw_proving_difference_db(&one.response, &sloped.response), deviation, 0.25);
}

static void test_not_comparable(void)
{
  static Cabin one, other;

  make(&one, 8, 1);
  make(&other, 8, 1);
  other.response.low_hz = 14000; /* less than one and a half octaves in common */
  g_assert_true(isnan(cw_proving_likeness(&one.response, &other.response)));
  g_assert_true(isnan(cw_proving_louder_db(&one.response, &other.response)));
  g_assert_true(isnan(cw_proving_difference_db(&one.response, &other.response)));
  other.response.low_hz = 80;
  other.response.rate_hz = 44100;
  g_assert_true(isnan(cw_proving_likeness(&one.response, &other.response)));
  g_assert_true(isnan(cw_proving_sameness(&one.response, &other.response)));
}

static void test_read(void)
{
  static CwTakeResult result;

  memset(&result, 0, sizeof result);
  result.faults = CW_TAKE_NO_SWEEP;
  result.snr_db = 60;
  g_assert_false(cw_proving_read(&result).sounded);
  result.faults = 0;
  result.snr_db = 5;
  g_assert_false(cw_proving_read(&result).sounded);
  result.snr_db = 40;
  result.level_db_spl = 88;
  result.arrival_seconds = NAN;
  result.rattle_hz = NAN;
  for (int i = 0; i < CW_TAKE_POINTS; i++) {
    result.hz[i] = CW_TAKE_LOW_HZ * exp2((double)i / CW_TAKE_POINTS_PER_OCTAVE);
    result.db[i] = result.hz[i] < 200 || result.hz[i] > 5000 ? 50 : 90;
  }
  for (int i = 0; i < CW_TAKE_DISTORTION_POINTS; i++) {
    result.distortion_hz[i] = 20 * exp2(i / 3.0);
    result.second_percent[i] =
        result.distortion_hz[i] < 150 ? 30 : 0.5; /* outside the band it does not count */
    result.third_percent[i] = NAN;
  }
  CwProvingHeard heard = cw_proving_read(&result);
  g_assert_true(heard.sounded);
  g_assert_cmpfloat(heard.level_db_spl, ==, 88);
  /* The ends to a third of an octave, over which the levels are taken. */
  g_assert_cmpfloat(fabs(log2(heard.low_hz / 200)), <, 1.0 / 3);
  g_assert_cmpfloat(fabs(log2(heard.high_hz / 5000)), <, 1.0 / 3);
  g_assert_cmpfloat(heard.distortion_percent, ==, 0.5);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/measuring/proving/same", test_same);
  g_test_add_func("/measuring/proving/shift-and-sign", test_shift_and_sign);
  g_test_add_func("/measuring/proving/levels", test_levels);
  g_test_add_func("/measuring/proving/slope", test_slope);
  g_test_add_func("/measuring/proving/not-comparable", test_not_comparable);
  g_test_add_func("/measuring/proving/read", test_read);
  return g_test_run();
}
