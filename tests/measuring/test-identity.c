/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Speakers that are exchanged or misplaced, in cars invented from second-order slopes with a cabin's ripple
 * of some decibels on top. The truth is which speaker was put on which output. */
#include "measuring/arrival/identity.h"
#include "signal/random.h"
#include <glib.h>
#include <math.h>
#include <string.h>

#define OUTPUTS 9
#define TAKES_EACH 4
#define RIPPLE_DB 2.5

/* A midrange and a rear speaker differ little in band: those are told by distances that are 20 cm apart or
 * more. Two tweeters, two midranges, two midbasses, two rear speakers, a subwoofer. */
static const double low_hz[OUTPUTS] = {900, 950, 140, 150, 62, 60, 85, 85, 30},
                    high_hz[OUTPUTS] = {20500, 20500, 9000, 9000, 4800, 4800, 15500, 15500, 250},
                    distance_m[OUTPUTS] = {1.25, 0.88, 1.24, 0.84, 1.38, 1.0, 0.95, 0.62, 1.6};
static const CwSpeakerSheet sheet[OUTPUTS] = {
    {2300, 6500, 40000, 1}, {2300, 6500, 40000, 0}, {260, 2200, 16000, 3},
    {260, 2200, 16000, 2},  {66, 800, 9000, 5},     {66, 800, 9000, 4},
    {100, 1800, 40000, 7},  {100, 1800, 40000, 6},  {25, 40, 600, -1}};

typedef struct {
  CwIdentityProblem problem;
  CwSpeakerTake take[OUTPUTS * TAKES_EACH];
  CwHeardDistance heard[OUTPUTS];
} Car;

/* 12 dB per octave beyond both ends; what is 45 dB below the top is in the noise, and below half of the
 * lowest safe frequency of the output's own speaker no sweep goes. */
static void play(CwSpeakerTake *take, size_t output, size_t speaker, CwRandom *random)
{
  take->output = output;
  take->sweep_low_hz = 0.5 * sheet[output].lowest_hz;
  for (int b = 0; b < CW_IDENTITY_BANDS; b++) {
    double hz = CW_IDENTITY_LOW_HZ * exp2(b / 3.0),
           db = -10 * log10(1 + pow(low_hz[speaker] / hz, 4)) - 10 * log10(1 + pow(hz / high_hz[speaker], 4));
    take->level_db[b] =
        hz > 1.2 * take->sweep_low_hz && db > -45 ? db + RIPPLE_DB * cw_random_normal(random) : NAN;
  }
}

/* on[o]: the speaker that output o plays. */
static void make_car(Car *car, const size_t *on, unsigned seed)
{
  CwRandom random = cw_random_new(seed);

  memset(car, 0, sizeof *car);
  for (size_t o = 0; o < OUTPUTS; o++) {
    car->heard[o] = (CwHeardDistance){distance_m[on[o]] + 0.03 * cw_random_normal(&random), 0.1, false};
    for (size_t k = 0; k < TAKES_EACH; k++)
      play(&car->take[o * TAKES_EACH + k], o, on[o], &random);
  }
  car->heard[OUTPUTS - 1].heard_doubt_m = 0.5;
  car->problem =
      (CwIdentityProblem){OUTPUTS, 1, OUTPUTS * TAKES_EACH, sheet, distance_m, car->heard, car->take};
}

static void test_healthy(void)
{
  size_t on[OUTPUTS];
  Car car;
  CwSpeakerIdentity id[OUTPUTS];

  for (size_t o = 0; o < OUTPUTS; o++)
    on[o] = o;
  for (unsigned seed = 1; seed <= 50; seed++) {
    make_car(&car, on, seed);
    cw_identity_judge(&car.problem, id);
    for (size_t o = 0; o < OUTPUTS; o++) {
      g_assert_cmpint(id[o].exchanged_with, ==, -1);
      g_assert_false(id[o].misplaced);
    }
  }
}

/* Every exchange of two speakers is told, and of nothing else. A subwoofer on a tweeter's or a midrange's
 * output plays nothing of the sweep; then the other one is told alone. */
static void test_every_exchange(void)
{
  Car car;
  CwSpeakerIdentity id[OUTPUTS];

  for (size_t a = 0; a < OUTPUTS; a++)
    for (size_t b = a + 1; b < OUTPUTS; b++) {
      size_t on[OUTPUTS];
      bool alike = (a == 2 || a == 3) && (b == 6 || b == 7) && fabs(distance_m[a] - distance_m[b]) < 0.2;
      if (alike)
        continue;
      for (size_t o = 0; o < OUTPUTS; o++)
        on[o] = o == a ? b : o == b ? a : o;
      make_car(&car, on, (unsigned)(10 * a + b));
      cw_identity_judge(&car.problem, id);
      if (b == OUTPUTS - 1 && a < 4) {
        g_assert_true(id[b].misplaced || id[b].exchanged_with == (int)a);
        continue;
      }
      for (size_t o = 0; o < OUTPUTS; o++) {
        int expected = o == a ? (int)b : o == b ? (int)a : -1;
        g_test_message("%zu for %zu: output %zu %d, evidence %.1f, %.0f to %.0f Hz", a, b, o,
                       id[o].exchanged_with, id[o].evidence, id[o].low_hz, id[o].high_hz);
        g_assert_cmpint(id[o].exchanged_with, ==, expected);
      }
    }
}

/* Without any distance left and right of a way cannot be told, but ways can. */
static void test_without_distances(void)
{
  static const double nothing[OUTPUTS] = {NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
  size_t on[OUTPUTS] = {4, 1, 2, 3, 0, 5, 6, 7, 8};
  Car car;
  CwSpeakerIdentity id[OUTPUTS];

  make_car(&car, on, 3);
  car.problem.distance_m = nothing;
  cw_identity_judge(&car.problem, id);
  g_assert_cmpint(id[0].exchanged_with, ==, 4);
  g_assert_cmpint(id[4].exchanged_with, ==, 0);
  on[0] = 0;
  on[4] = 5;
  on[5] = 4;
  make_car(&car, on, 4);
  car.problem.distance_m = nothing;
  cw_identity_judge(&car.problem, id);
  for (size_t o = 0; o < OUTPUTS; o++)
    g_assert_true(id[o].exchanged_with < 0 && !id[o].misplaced);
}

/* One take of a tweeter among those of a midbass, and a midbass output on which only a tweeter plays. */
static void test_misplaced(void)
{
  size_t on[OUTPUTS] = {0, 1, 2, 3, 4, 5, 6, 7, 8};
  Car car;
  CwSpeakerIdentity id[OUTPUTS];
  CwRandom random = cw_random_new(5);

  make_car(&car, on, 6);
  play(&car.take[4 * TAKES_EACH], 4, 0, &random);
  cw_identity_judge(&car.problem, id);
  g_assert_true(id[4].misplaced);
  g_assert_cmpuint(id[4].misfits, ==, 1);
  g_assert_cmpuint(id[4].takes, ==, TAKES_EACH);
  g_assert_true(id[4].looks_like == 0 || id[4].looks_like == 1);
  on[4] = 0;
  make_car(&car, on, 7);
  cw_identity_judge(&car.problem, id);
  g_assert_true(id[4].misplaced);
  g_assert_cmpint(id[4].looks_like, ==, 0); /* by its distance */
  g_assert_cmpint(id[0].exchanged_with, ==, -1);
  g_assert_false(id[0].misplaced);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/identity/healthy", test_healthy);
  g_test_add_func("/identity/every-exchange", test_every_exchange);
  g_test_add_func("/identity/without-distances", test_without_distances);
  g_test_add_func("/identity/misplaced", test_misplaced);
  return g_test_run();
}
