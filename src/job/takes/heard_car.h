/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/arrival/first_sound.h"
#include "measuring/arrival/polarity.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* What all accepted takes of a vehicle, made for its tuning, say together of time and polarity. Borrows from
 * the vehicle, which may not change meanwhile. */
typedef struct {
  guint outputs, places, seats;
  CwRecord **speaker;         /* outputs */
  int *mate;                  /* outputs: index of the other speaker of its left/right pair; -1 for none */
  const char *const *seat;    /* seats */
  GPtrArray *takes;           /* borrowed records of those that were timed, in the problem's order */
  CwFirstSounds *sounds;      /* of takes; distance is outputs x seats */
  double *expected_seconds;   /* of takes: arrival by the sheet's distance, to the head's middle, on the
                                 take's clock; NAN where sheet or clock do not tell it */
  CwPolarityVerdict *verdict; /* outputs */
  gboolean *heard;            /* outputs: at least one take tells something */
} CwHeardCar;

/* Hears the vehicle's takes together; also without any. Free with cw_heard_car_free(). */
CwHeardCar *cw_job_hear_car(CwRecord *vehicle);
void cw_heard_car_free(CwHeardCar *car);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwHeardCar, cw_heard_car_free)

/* Whether the tune is to start with an output inverted: where it is surely wired in reverse. One of a pair
 * never is without its mate unless that is sure. Where nothing is sure, which way they add is left to the
 * tune. */
gboolean cw_heard_inverted(const CwHeardCar *car, guint output);

#define CW_POLARITY_NAMED 0.8 /* from this certainty on a polarity is named */
#define CW_POLARITY_SURE 0.95 /* and from this on a person may be asked to swap wires */

/* An output's index in the car; -1 for none. */
int cw_heard_car_index(const CwHeardCar *car, gint64 output);

/* Whether edges were looked for in a take; there may be none. */
gboolean cw_job_has_edges(CwRecord *take);

/* The row of a take's edges, of which there is at least one, that is the likeliest by itself. */
gsize cw_job_likeliest_edge(const CwNumbers *edges);

G_END_DECLS
