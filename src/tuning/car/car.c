/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/car/car.h"
#include "signal/sort.h"
#include <math.h>

CwCar *cw_car_new(size_t outputs, size_t places, double rate_hz, size_t frames)
{
  CwCar *car = cw_alloc_bytes(sizeof *car);

  car->rate_hz = rate_hz;
  car->length = cw_fft_good_length(frames + frames / 8);
  car->places = places;
  car->seats = 1;
  car->place_seat = cw_alloc_bytes(places * sizeof *car->place_seat);
  car->outputs = outputs;
  car->output = cw_alloc_bytes(outputs * sizeof *car->output);
  for (size_t o = 0; o < outputs; o++) {
    car->output[o].mate = -1;
    car->output[o].response = cw_alloc_bytes(places * sizeof *car->output[o].response);
    car->output[o].storage = cw_alloc_complex(places * (car->length / 2 + 1));
  }
  return car;
}

void cw_car_free(CwCar *car)
{
  if (!car)
    return;
  for (size_t o = 0; o < car->outputs; o++) {
    cw_free(car->output[o].response);
    cw_free(car->output[o].storage);
  }
  cw_free(car->output);
  cw_free(car->place_seat);
  cw_free(car);
}

/* Turns a spectrum as a delay of seconds would. */
static void turn(CwComplex *bins, size_t count, double step_hz, double seconds)
{
  CwComplex step = cexp(-2 * M_PI * I * step_hz * seconds), phase = 1;

  for (size_t i = 0; i < count; i++) {
    if (i % 64 == 0) /* keeps the rounding of the running product small */
      phase = cexp(-2 * M_PI * I * step_hz * (double)i * seconds);
    bins[i] *= phase;
    phase *= step;
  }
}

void cw_car_add(CwCar *car, size_t output, size_t place, const float *impulse, size_t frames,
                double start_seconds)
{
  CwCarOutput *o = &car->output[output];
  size_t bins = car->length / 2 + 1;
  double *samples = cw_alloc_real(car->length);

  for (size_t i = 0; i < frames && i < car->length; i++)
    samples[i] = impulse[i];
  o->response[place] = o->storage + place * bins;
  cw_fft_forward(cw_fft_get(car->length), samples, o->response[place]);
  turn(o->response[place], bins, car->rate_hz / (double)car->length, start_seconds);
  cw_free(samples);
}

/* Mean of the known arrivals at a seat, NAN without; those far from the median (a spoiled take) are left out.
 */
static double mean_at_seat(const CwCar *car, const double *arrivals, size_t seat)
{
  double *known = cw_alloc_real(car->places), sum = 0, middle;
  size_t count = 0, used = 0;

  for (size_t p = 0; p < car->places; p++)
    if (car->place_seat[p] == seat && !isnan(arrivals[p]))
      known[count++] = arrivals[p];
  cw_sort_rising(known, count);
  middle = count ? known[count / 2] : 0;
  for (size_t i = 0; i < count; i++)
    if (fabs(known[i] - middle) < 0.7e-3) { /* a head is no wider */
      sum += known[i];
      used++;
    }
  cw_free(known);
  return used ? sum / (double)used : NAN;
}

static double mean_arrival(const CwCar *car, const double *arrivals)
{
  double sum = 0;
  size_t used = 0;

  for (size_t seat = 0; seat < car->seats; seat++) {
    double mean = mean_at_seat(car, arrivals, seat);
    if (isnan(mean))
      continue;
    sum += mean;
    used++;
  }
  return used ? sum / (double)used : 0;
}

static void pair_up(CwCar *car)
{
  for (size_t a = 0; a < car->outputs; a++)
    for (size_t b = a + 1; b < car->outputs && car->output[a].mate < 0; b++) {
      CwCarOutput *one = &car->output[a], *other = &car->output[b];
      bool opposite = (one->side == CW_SIDE_LEFT && other->side == CW_SIDE_RIGHT) ||
                      (one->side == CW_SIDE_RIGHT && other->side == CW_SIDE_LEFT);
      if (other->mate < 0 && one->way == other->way && opposite) {
        one->mate = (int)b;
        other->mate = (int)a;
      }
    }
}

/* A speaker for both sides in the midst of speakers for one side each. */
static bool is_centre(const CwCar *car, const CwCarOutput *output)
{
  if (output->side != CW_SIDE_BOTH || output->way == CW_WAY_SUB)
    return false;
  for (size_t o = 0; o < car->outputs; o++)
    if (car->output[o].way != CW_WAY_SUB && car->output[o].side != CW_SIDE_BOTH)
      return true;
  return false;
}

/* A role that was given counts; else the way and the place tell. */
static bool is_beside(const CwCar *car, const CwCarOutput *output, bool has_high)
{
  switch (output->role) {
  case CW_ROLE_FRONT_STAGE:
    return false;
  case CW_ROLE_FILL:
  case CW_ROLE_SECOND_ROW:
  case CW_ROLE_OFF:
    return true;
  case CW_ROLE_AS_PLACED:
  default:
    return (has_high && output->way == CW_WAY_FULL) || is_centre(car, output);
  }
}

static void find_stage(CwCar *car)
{
  bool has_high = false;

  for (size_t o = 0; o < car->outputs; o++)
    has_high |= car->output[o].way == CW_WAY_HIGH && !is_beside(car, &car->output[o], false);
  for (size_t o = 0; o < car->outputs; o++)
    car->output[o].beside = is_beside(car, &car->output[o], has_high);
}

void cw_car_settle(CwCar *car, const double *arrivals)
{
  double step_hz = car->rate_hz / (double)car->length;

  for (size_t o = 0; o < car->outputs; o++) {
    CwCarOutput *output = &car->output[o];
    output->arrival_seconds = mean_arrival(car, arrivals + o * car->places);
    for (size_t p = 0; p < car->places; p++)
      if (output->response[p])
        turn(output->response[p], car->length / 2 + 1, step_hz, -output->arrival_seconds);
  }
  pair_up(car);
  find_stage(car);
}
