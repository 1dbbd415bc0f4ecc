/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The joint estimate, on cars that are invented point by point: speakers and microphone places in space, so
 * that every arrival's truth follows from geometry. Edges carry the truth with an error of known spread, and
 * others beside it. */
#include "measuring/arrival/first_sound.h"
#include "signal/random.h"
#include <glib.h>
#include <math.h>
#include <string.h>

#define OUTPUTS 6
#define PLACES 6
#define TAKES (OUTPUTS * PLACES)
#define LATENCY 4.2e-3
#define SPEED 343.2

static const double speaker[OUTPUTS][3] = {{-0.6, 0.8, 0.1},  {0.7, 0.8, 0.1},    {-0.7, 0.7, -0.6},
                                           {0.75, 0.7, -0.6}, {-0.7, -0.3, -0.5}, {0.3, -1.1, -0.6}},
                    radius[OUTPUTS] = {0.013, 0.013, 0.075, 0.075, 0.06, 0.12},
                    place[PLACES][3] = {{0, 0, 0},          {-0.085, 0.01, 0},    {0.085, 0.01, 0},
                                        {0.015, 0.1, 0.02}, {-0.02, -0.08, 0.03}, {0.03, -0.02, 0.095}};

typedef struct {
  CwFirstSoundProblem problem;
  CwHeardTake take[TAKES];
  CwEdge edge[TAKES][3];
  double distance[OUTPUTS], truth[TAKES]; /* on the take's clock */
  gsize place_seat[PLACES];
} Car;

static double way(size_t output, const double *from)
{
  double sum = 0;

  for (size_t i = 0; i < 3; i++)
    sum += pow(speaker[output][i] - from[i], 2);
  return sqrt(sum);
}

/* Every take: the first sound, and two louder ones 2 and 5 ms later that are less likely. sigma: error of the
 * edges that are read from sharp speakers; the subwoofer's is 20 times that. */
static void make_car(Car *car, unsigned seed, double sigma)
{
  static const double centre[3];
  CwRandom random = cw_random_new(seed);

  memset(car, 0, sizeof *car);
  for (size_t o = 0; o < OUTPUTS; o++)
    car->distance[o] = way(o, centre) + 0.015 * cw_random_normal(&random);
  for (size_t i = 0; i < TAKES; i++) {
    size_t o = i / PLACES;
    double own = o == OUTPUTS - 1 ? 20 * sigma : sigma;
    car->truth[i] = LATENCY + way(o, place[i % PLACES]) / SPEED;
    car->edge[i][0] = (CwEdge){car->truth[i] + own * cw_random_normal(&random), 0.6, 0.9};
    car->edge[i][1] = (CwEdge){car->truth[i] + 2e-3, -0.9, 0.06};
    car->edge[i][2] = (CwEdge){car->truth[i] + 5e-3, 1, 0.02};
    car->take[i] = (CwHeardTake){.output = o,
                                 .place = i % PLACES,
                                 .edge = car->edge[i],
                                 .edges = 3,
                                 .high_hz = o < 2             ? 20000
                                            : o < OUTPUTS - 1 ? 9000
                                                              : 1000};
  }
  car->problem = (CwFirstSoundProblem){.outputs = OUTPUTS,
                                       .places = PLACES,
                                       .seats = 1,
                                       .clocks = 1,
                                       .takes = TAKES,
                                       .place_seat = car->place_seat,
                                       .distance_m = car->distance,
                                       .radius_m = radius,
                                       .speed_m_per_s = SPEED,
                                       .take = car->take};
}

/* ISO 9613-1: 331.3 m/s at 0 degrees C, 343.2 at 20. */
static void test_speed_of_sound(void)
{
  g_assert_cmpfloat(fabs(cw_speed_of_sound(20) - 343.2), <, 0.05);
  g_assert_cmpfloat(fabs(cw_speed_of_sound(0) - 331.3), <, 0.1);
}

static void test_clear_edges(void)
{
  Car car;

  make_car(&car, 1, 20e-6);
  CwFirstSounds *sounds = cw_first_sounds_find(&car.problem);
  for (size_t i = 0; i < TAKES; i++) {
    g_assert_cmpfloat(fabs(sounds->take[i].seconds - car.truth[i]), <, i < TAKES - PLACES ? 0.1e-3 : 0.9e-3);
    g_assert_cmpint(sounds->take[i].by, ==, CW_ARRIVAL_BY_BOTH);
  }
  for (size_t o = 0; o < OUTPUTS; o++)
    g_assert_false(sounds->distance[o].contradicts);
  g_assert_cmpfloat(fabs(sounds->latency_seconds[0] - LATENCY), <, 0.1e-3);
  cw_first_sounds_free(sounds);
}

/* In three takes a reflection is the likelier edge by the take alone: what the others and the tape say
 * overrules. */
static void test_misleading_takes(void)
{
  Car car;

  make_car(&car, 2, 20e-6);
  for (size_t i = 2 * PLACES; i < 2 * PLACES + 3; i++) {
    car.edge[i][0].likelihood = 0.15;
    car.edge[i][1].likelihood = 0.8;
  }
  CwFirstSounds *sounds = cw_first_sounds_find(&car.problem);
  for (size_t i = 2 * PLACES; i < 2 * PLACES + 3; i++)
    g_assert_cmpuint(sounds->take[i].edge, ==, 0);
  cw_first_sounds_free(sounds);
  for (size_t o = 0; o < OUTPUTS; o++) /* and without a tape the other places' takes do */
    car.distance[o] = NAN;
  sounds = cw_first_sounds_find(&car.problem);
  for (size_t i = 2 * PLACES; i < 2 * PLACES + 3; i++) {
    g_assert_cmpuint(sounds->take[i].edge, ==, 0);
    g_assert_cmpint(sounds->take[i].by, ==, CW_ARRIVAL_BY_SOUND);
  }
  cw_first_sounds_free(sounds);
}

/* A tape measure that is read wrong by 20 cm is told from the sound, which stays where it is, in 95 of 100
 * cars or more; one that is right within its few centimetres is doubted once in 200 at the most. */
static void test_wrong_tape(void)
{
  size_t found = 0, invented = 0, all = 0;

  for (unsigned seed = 1; seed <= 50; seed++)
    for (int sign = -1; sign <= 1; sign += 2) {
      Car car;
      size_t wrong = seed % 5;
      make_car(&car, seed, 20e-6);
      car.distance[wrong] += 0.2 * sign;
      CwFirstSounds *sounds = cw_first_sounds_find(&car.problem);
      all++;
      for (size_t o = 0; o < OUTPUTS; o++) {
        found += o == wrong && sounds->distance[o].contradicts;
        invented += o != wrong && sounds->distance[o].contradicts;
      }
      g_assert_cmpfloat(fabs(sounds->distance[wrong].heard_m - (car.distance[wrong] - 0.2 * sign)), <, 0.1);
      for (size_t i = wrong * PLACES; i < (wrong + 1) * PLACES; i++) {
        g_assert_cmpfloat(fabs(sounds->take[i].seconds - car.truth[i]), <, 0.1e-3);
        if (sounds->distance[wrong].contradicts)
          g_assert_cmpint(sounds->take[i].by, ==, CW_ARRIVAL_BY_SOUND);
      }
      cw_first_sounds_free(sounds);
    }
  g_test_message("%zu of %zu found, %zu invented", found, all, invented);
  g_assert_cmpuint(100 * found, >=, 95 * all);
  g_assert_cmpuint(200 * invented, <=, (OUTPUTS - 1) * all);
}

/* Two wires exchanged: both distances are wrong by some decimetres, and the sound is believed. */
static void test_exchanged(void)
{
  Car car;

  make_car(&car, 5, 20e-6);
  double swap = car.distance[0];
  car.distance[0] = car.distance[2] + 0.35;
  car.distance[2] = swap - 0.35;
  CwFirstSounds *sounds = cw_first_sounds_find(&car.problem);
  for (size_t i = 0; i < 3 * PLACES; i++) {
    g_assert_cmpuint(sounds->take[i].edge, ==, 0);
    g_assert_cmpfloat(fabs(sounds->take[i].seconds - car.truth[i]), <, 0.1e-3);
  }
  g_assert_true(sounds->distance[0].contradicts && sounds->distance[2].contradicts);
  cw_first_sounds_free(sounds);
}

/* A clock for each place, as markers have: the same answers, each on its own clock. */
static void test_many_clocks(void)
{
  Car car;

  make_car(&car, 3, 20e-6);
  car.problem.clocks = PLACES;
  for (size_t i = 0; i < TAKES; i++) {
    double shift = -3e-3 * (double)(i % PLACES);
    car.take[i].clock = i % PLACES;
    car.truth[i] += shift;
    for (size_t k = 0; k < 3; k++)
      car.edge[i][k].seconds += shift;
  }
  CwFirstSounds *sounds = cw_first_sounds_find(&car.problem);
  for (size_t i = 0; i < TAKES; i++)
    g_assert_cmpfloat(fabs(sounds->take[i].seconds - car.truth[i]), <, i < TAKES - PLACES ? 0.1e-3 : 0.9e-3);
  for (size_t p = 0; p < PLACES; p++)
    g_assert_cmpfloat(fabs(sounds->latency_seconds[p] - LATENCY + 3e-3 * (double)p), <, 0.25e-3);
  cw_first_sounds_free(sounds);
}

/* Takes without an edge rest on distance, and say so with a doubt that holds the truth 95 times in 100. */
static void test_by_distance(void)
{
  size_t outside = 0, all = 0;

  for (unsigned seed = 1; seed <= 60; seed++) {
    Car car;
    make_car(&car, seed, 20e-6);
    for (size_t i = 4 * PLACES; i < 5 * PLACES; i++)
      car.take[i].edges = 0;
    CwFirstSounds *sounds = cw_first_sounds_find(&car.problem);
    for (size_t i = 4 * PLACES; i < 5 * PLACES; i++, all++) {
      g_assert_cmpint(sounds->take[i].by, ==, CW_ARRIVAL_BY_DISTANCE);
      g_assert_cmpuint(sounds->take[i].edge, ==, CW_NO_EDGE);
      outside += fabs(sounds->take[i].seconds - car.truth[i]) > sounds->take[i].doubt_seconds;
    }
    cw_first_sounds_free(sounds);
  }
  g_test_message("%zu of %zu beyond their doubt", outside, all);
  g_assert_cmpuint(20 * outside, <=, all);
}

/* Property: with neither edge nor distance there is no arrival. */
static void test_nothing_known(void)
{
  Car car;

  make_car(&car, 4, 20e-6);
  car.distance[1] = NAN;
  for (size_t i = PLACES; i < 2 * PLACES; i++)
    car.take[i].edges = 0;
  CwFirstSounds *sounds = cw_first_sounds_find(&car.problem);
  for (size_t i = PLACES; i < 2 * PLACES; i++) {
    g_assert_true(isnan(sounds->take[i].seconds));
    g_assert_cmpint(sounds->take[i].by, ==, CW_ARRIVAL_BY_NOTHING);
  }
  g_assert_cmpfloat(fabs(sounds->take[0].seconds - car.truth[0]), <, 0.1e-3);
  cw_first_sounds_free(sounds);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/first-sound/speed-of-sound", test_speed_of_sound);
  g_test_add_func("/first-sound/clear-edges", test_clear_edges);
  g_test_add_func("/first-sound/misleading-takes", test_misleading_takes);
  g_test_add_func("/first-sound/wrong-tape", test_wrong_tape);
  g_test_add_func("/first-sound/exchanged", test_exchanged);
  g_test_add_func("/first-sound/many-clocks", test_many_clocks);
  g_test_add_func("/first-sound/by-distance", test_by_distance);
  g_test_add_func("/first-sound/nothing-known", test_nothing_known);
  return g_test_run();
}
