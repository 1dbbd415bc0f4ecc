/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long the prediction of a nine-output car takes: 14 sections an output, six places, 48 points an octave,
 * left, right and both; then with one section changed. Printed beside a plain loop over the same numbers in
 * the same run. */
#include "tuning/car/prediction.h"
#include <math.h>
#include <stdio.h>
#include <time.h>

enum { OUTPUTS = 9, PLACES = 6, SECTIONS = 14, ROUNDS = 400 };

static double now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static CwCar *make_car(void)
{
  CwCar *car = cw_car_new(OUTPUTS, PLACES, 48000, 24000);
  double arrivals[OUTPUTS * PLACES] = {0};
  float impulse[256];

  for (size_t o = 0; o < OUTPUTS; o++) {
    car->output[o].mix[0] = o % 3 != 1;
    car->output[o].mix[1] = o % 3 != 0;
    for (size_t p = 0; p < PLACES; p++) {
      for (int i = 0; i < 256; i++)
        impulse[i] = (float)(exp(-i / 30.0) * sin(0.1 * (i + 1) * (double)(o + p + 1)));
      cw_car_add(car, o, p, impulse, 256, 0);
    }
  }
  cw_car_settle(car, arrivals);
  return car;
}

static double ask_all(CwPrediction *p)
{
  double sum = 0;
  for (CwSum s = 0; s < CW_SUMS; s++)
    for (size_t place = 0; place < PLACES; place++) {
      const double *re, *im;
      cw_prediction_at_place(p, s, place, &re, &im);
      sum += re[100] + im[100];
    }
  return sum;
}

/* The same drives by the plain complex formula, for a peer. */
static double plain_drives(CwCoefficients cascade[SECTIONS], const double *hz)
{
  static CwComplex response[CW_PREDICTION_POINTS];
  for (int o = 0; o < OUTPUTS; o++)
    cw_cascade_response(cascade, SECTIONS, 48000, hz, CW_PREDICTION_POINTS, false, response);
  return creal(response[7]);
}

int main(void)
{
  CwCar *car = make_car();
  CwPrediction *p = cw_prediction_new(car, 48000);
  CwCoefficients cascade[SECTIONS], other;
  CwSection section = {CW_SECTION_PEAKING, 100, 3, 2};
  double sink = 0, whole, one, plain, start;

  for (int k = 0; k < SECTIONS; k++, section.frequency_hz *= 1.4)
    cw_section_design(&section, 48000, &cascade[k]);
  section.frequency_hz = 555;
  cw_section_design(&section, 48000, &other);
  start = now();
  for (int r = 0; r < ROUNDS; r++) {
    for (size_t o = 0; o < OUTPUTS; o++)
      cw_prediction_set_drive(p, o, cascade, SECTIONS, 0.5, 1e-3);
    sink += ask_all(p);
  }
  whole = (now() - start) / ROUNDS;
  start = now();
  for (int r = 0; r < 10 * ROUNDS; r++) {
    cw_prediction_change_section(p, 4, r % 2 ? &other : &cascade[0], r % 2 ? &cascade[0] : &other);
    sink += ask_all(p);
  }
  one = (now() - start) / (10 * ROUNDS);
  start = now();
  for (int r = 0; r < ROUNDS / 4; r++)
    sink += plain_drives(cascade, cw_prediction_hz(p));
  plain = (now() - start) / (ROUNDS / 4);
  printf("whole car %.3f ms, one section %.3f ms, plain drives alone %.3f ms, whole over plain %.2f (%g)\n",
         1e3 * whole, 1e3 * one, 1e3 * plain, whole / plain, sink);
  cw_prediction_free(p);
  cw_car_free(car);
  return 0;
}
