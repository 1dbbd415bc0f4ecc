/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/car/mirrored_car.h"
#include <string.h>

CwSide cw_mirrored_car_side(const CwMirroredCar *facing, CwSide side)
{
  if (!facing->exchanged || side == CW_SIDE_BOTH)
    return side;
  return side == CW_SIDE_LEFT ? CW_SIDE_RIGHT : CW_SIDE_LEFT;
}

/* Whether the right side is nearer: by the first pair of speakers, in the order of ways, that says so. */
static bool right_is_nearer(const CwCar *car)
{
  for (CwWay way = CW_WAY_HIGH; way <= CW_WAY_SUB; way++) {
    double later_left = 0;
    for (size_t o = 0; o < car->outputs; o++) {
      const CwCarOutput *output = &car->output[o];
      if (output->way == way && output->mate >= 0 && output->side == CW_SIDE_LEFT)
        later_left += output->arrival_seconds - car->output[output->mate].arrival_seconds;
    }
    if (later_left != 0)
      return later_left > 0;
  }
  return false;
}

/* By way, then side, then arrival. */
static bool comes_before(const CwCarOutput *one, const CwCarOutput *other)
{
  if (one->way != other->way)
    return one->way < other->way;
  if (one->side != other->side)
    return one->side < other->side;
  return one->arrival_seconds < other->arrival_seconds;
}

static void exchange_sides(const CwMirroredCar *facing, CwCarOutput *output)
{
  double left = output->mix[0];

  output->side = cw_mirrored_car_side(facing, output->side);
  if (!facing->exchanged)
    return;
  output->mix[0] = output->mix[1];
  output->mix[1] = left;
}

CwMirroredCar cw_mirrored_car_of(const CwCar *car)
{
  CwMirroredCar facing = {*car, cw_alloc_bytes(car->outputs * sizeof *facing.order), right_is_nearer(car)};
  CwCarOutput *outputs = cw_alloc_bytes(car->outputs * sizeof *outputs), *list = facing.car.output = outputs;

  for (size_t o = 0; o < car->outputs; o++) {
    CwCarOutput output = car->output[o];
    size_t at = o;
    exchange_sides(&facing, &output);
    for (; at > 0 && comes_before(&output, &list[at - 1]); at--) {
      list[at] = list[at - 1];
      facing.order[at] = facing.order[at - 1];
    }
    list[at] = output;
    facing.order[at] = o;
  }
  for (size_t o = 0; o < car->outputs; o++)
    for (size_t k = 0; k < car->outputs && list[o].mate >= 0; k++)
      if ((int)facing.order[k] == car->output[facing.order[o]].mate) {
        list[o].mate = (int)k;
        break;
      }
  return facing;
}

void cw_mirrored_car_clear(CwMirroredCar *facing)
{
  cw_free(facing->car.output);
  cw_free(facing->order);
  memset(facing, 0, sizeof *facing);
}
