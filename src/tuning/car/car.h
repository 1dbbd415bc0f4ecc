/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"
#include "vehicle/kinds/kind_words.h"
#include <stdbool.h>

/* A measured car as plain numbers: what the tuning works on. */

typedef enum { CW_SUM_LEFT, CW_SUM_RIGHT, CW_SUM_BOTH, CW_SUMS } CwSum; /* which inputs play */

typedef struct {
  int number; /* the processor's output */
  CwWay way;
  CwSide side;
  CwSpeakerRole role;
  double lowest_hz;
  double clean_hz;     /* from where on it plays cleanly; what is not above lowest_hz says nothing */
  double resonance_hz; /* of the speaker by itself; 0 where it is not known */
  double rattle_hz;    /* where something rattles when it plays; 0 for nowhere */
  double mix[2];       /* of the left and the right input */
  int mate;            /* index of the other speaker of a left/right pair; -1 for none */
  bool beside;         /* plays beside the stage: by its role, or full-range with a high way elsewhere, or a
                          centre */
  bool inverted;       /* as wired, against the feed */
  double arrival_seconds; /* mean over the places of each seat, then over the seats, after a reference common
                             to all outputs */
  double arrival_doubt_seconds; /* 95 % lie within it, where arrival_seconds rests on distance alone and the
                                   fit may move it by that; else 0 */
  CwComplex **response; /* for each place; NULL where it was not measured. arrival_seconds taken out */
  CwComplex *storage;
} CwCarOutput;

typedef struct {
  double rate_hz; /* of the transforms */
  size_t length;  /* of the transforms; length / 2 + 1 bins a response */
  size_t places, seats;
  size_t *place_seat; /* which seat a place belongs to, below seats */
  size_t outputs;
  CwCarOutput *output;
} CwCar;

/* A car without responses, all places at one seat; rate_hz and frames of the impulse responses to come. Free
 * with cw_car_free(). */
CwCar *cw_car_new(size_t outputs, size_t places, double rate_hz, size_t frames);
void cw_car_free(CwCar *car);

/* Adds one impulse response: frames samples, the first at start_seconds after the reference. */
void cw_car_add(CwCar *car, size_t output, size_t place, const float *impulse, size_t frames,
                double start_seconds);

/* Sets arrival_seconds from arrivals (outputs x places, NAN where unknown) and takes it out of the responses;
 * pairs up left and right speakers of the same way in order, and tells the stage from what plays beside it.
 * Call once, after the last cw_car_add(). */
void cw_car_settle(CwCar *car, const double *arrivals);
