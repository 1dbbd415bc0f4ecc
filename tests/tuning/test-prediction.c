/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/car/prediction.h"
#include <glib.h>
#include <math.h>

#define OUTPUTS 3
#define PLACES 2
#define RATE_HZ 48000.0

/* A car whose speakers have flat responses of a level and phase of their own at each place: what a sum must
 * be is then known at every frequency from the settings alone. */
static CwComplex level_of(size_t output, size_t place)
{
  return (1 + 0.3 * (double)output) * cexp(I * (0.7 * (double)output - 1.1 * (double)place));
}

static CwCar *flat_car(void)
{
  CwCar *car = cw_car_new(OUTPUTS, PLACES, RATE_HZ, 8192);
  double arrivals[OUTPUTS * PLACES] = {0};

  for (size_t o = 0; o < OUTPUTS; o++) {
    car->output[o].way = CW_WAY_FULL;
    car->output[o].side = CW_SIDE_BOTH;
    car->output[o].mix[0] = o != 1;
    car->output[o].mix[1] = o != 0;
    for (size_t place = 0; place < PLACES; place++) {
      car->output[o].response[place] = car->output[o].storage + place * (car->length / 2 + 1);
      for (size_t i = 0; i <= car->length / 2; i++)
        car->output[o].response[place][i] = level_of(o, place);
    }
  }
  cw_car_settle(car, arrivals);
  return car;
}

static void set_all(CwPrediction *p, CwCoefficients cascade[OUTPUTS][2])
{
  for (size_t o = 0; o < OUTPUTS; o++) {
    CwSection low = {CW_SECTION_PEAKING, 120 * (double)(o + 1), -4, 2},
              high = {CW_SECTION_HIGH_SHELF, 3000, 3 - (double)o, 0.8};
    g_assert_true(cw_section_design(&low, RATE_HZ, &cascade[o][0]));
    g_assert_true(cw_section_design(&high, RATE_HZ, &cascade[o][1]));
    cw_prediction_set_drive(p, o, cascade[o], 2, o == 1 ? -0.5 : 0.8, 1e-3 * (double)o);
  }
}

static CwComplex drive_of(CwCoefficients cascade[OUTPUTS][2], size_t o, double hz)
{
  return cw_coefficients_response(&cascade[o][0], hz, RATE_HZ) *
         cw_coefficients_response(&cascade[o][1], hz, RATE_HZ) * (o == 1 ? -0.5 : 0.8) *
         cexp(-2 * M_PI * I * hz * 1e-3 * (double)o);
}

static void check_sums(CwPrediction *p, const CwCar *car, CwCoefficients cascade[OUTPUTS][2])
{
  double seat[CW_PREDICTION_POINTS];

  for (CwSum sum = 0; sum < CW_SUMS; sum++) {
    cw_prediction_seat_db(p, sum, seat);
    for (size_t i = 0; i < CW_PREDICTION_POINTS; i += 7) {
      double hz = cw_prediction_hz(p)[i], power = 0;
      for (size_t place = 0; place < PLACES; place++) {
        const double *re, *im;
        CwComplex want = 0;
        for (size_t o = 0; o < OUTPUTS; o++) {
          double mix =
              sum == CW_SUM_BOTH ? car->output[o].mix[0] + car->output[o].mix[1] : car->output[o].mix[sum];
          want += mix * drive_of(cascade, o, hz) * level_of(o, place);
        }
        cw_prediction_at_place(p, sum, place, &re, &im);
        g_assert_cmpfloat_with_epsilon(re[i], creal(want), 1e-9);
        g_assert_cmpfloat_with_epsilon(im[i], cimag(want), 1e-9);
        power += creal(want * conj(want)) / PLACES;
      }
      g_assert_cmpfloat_with_epsilon(seat[i], 10 * log10(power), 1e-7);
    }
  }
}

static void test_sums(void)
{
  CwCar *car = flat_car();
  CwPrediction *p = cw_prediction_new(car, RATE_HZ);
  CwCoefficients cascade[OUTPUTS][2];

  set_all(p, cascade);
  check_sums(p, car, cascade);
  cw_prediction_free(p);
  cw_car_free(car);
}

/* Exchanging a section must come to the same as setting the whole drive anew, whether the sums were asked for
 * before or not. */
static void test_change_section(void)
{
  CwCar *car = flat_car();
  CwPrediction *p = cw_prediction_new(car, RATE_HZ);
  CwCoefficients cascade[OUTPUTS][2], moved;
  CwSection section = {CW_SECTION_PEAKING, 300, 5, 3};

  set_all(p, cascade);
  for (int round = 0; round < 50; round++) {
    section.frequency_hz *= 1.05;
    g_assert_true(cw_section_design(&section, RATE_HZ, &moved));
    cw_prediction_change_section(p, 2, &cascade[2][0], &moved);
    cascade[2][0] = moved;
    if (round == 20)
      check_sums(p, car, cascade);
  }
  check_sums(p, car, cascade);
  cw_prediction_free(p);
  cw_car_free(car);
}

/* A delay of one speaker against an equal one makes the comb that its length says (checks: comb.nulls,
 * computed: nulls at odd multiples of 1 / (2 delay)). */
static void test_comb(void)
{
  CwCar *car = flat_car();
  CwPrediction *p = cw_prediction_new(car, RATE_HZ);
  double db[CW_PREDICTION_POINTS], delay = 1e-3;
  size_t lowest = 0;

  cw_prediction_set_mix(p, 0, 1, 0);
  cw_prediction_set_mix(p, 2, 1, 0);
  cw_prediction_set_drive(p, 0, NULL, 0, 1 / cabs(level_of(0, 0)), 0);
  cw_prediction_set_drive(p, 2, NULL, 0, 1 / cabs(level_of(2, 0)), delay);
  cw_prediction_seat_db(p, CW_SUM_LEFT, db);
  for (size_t i = 0; i < CW_PREDICTION_POINTS && cw_prediction_hz(p)[i] < 900; i++)
    if (db[i] < db[lowest])
      lowest = i;
  /* the two stand 1.4 rad apart by themselves */
  double null_hz = (M_PI + 1.4) / (2 * M_PI * delay);
  g_assert_cmpfloat(fabs(log2(cw_prediction_hz(p)[lowest] / null_hz)), <, 0.6 / CW_PREDICTION_PER_OCTAVE);
  cw_prediction_free(p);
  cw_car_free(car);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/tuning/prediction/sums", test_sums);
  g_test_add_func("/tuning/prediction/change-section", test_change_section);
  g_test_add_func("/tuning/prediction/comb", test_comb);
  return g_test_run();
}
