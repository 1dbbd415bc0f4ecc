/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/car/car.h"

/* A car as seen from the seat: the nearer side first, speakers in an order that does not depend on how the
 * wires are numbered. A car and its mirror image look the same that way, and so are tuned the same, bit for
 * bit. */
typedef struct {
  CwCar car;      /* shares responses and seats with the car it was made of, which must outlive it */
  size_t *order;  /* for each output here, its index there */
  bool exchanged; /* left here is right there */
} CwMirroredCar;

/* Of a settled car. Clear with cw_mirrored_car_clear(). */
CwMirroredCar cw_mirrored_car_of(const CwCar *car);
void cw_mirrored_car_clear(CwMirroredCar *facing);

/* A side there, of one here or the other way round. */
CwSide cw_mirrored_car_side(const CwMirroredCar *facing, CwSide side);
