/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/arrival/edges.h"

/* What an arrival rests on. */
typedef enum {
  CW_ARRIVAL_BY_NOTHING,
  CW_ARRIVAL_BY_SOUND,
  CW_ARRIVAL_BY_DISTANCE,
  CW_ARRIVAL_BY_BOTH
} CwArrivalBy;

#define CW_NO_EDGE ((size_t)-1)

/* One accepted take. Takes on one clock share one unknown latency: all that were timed by loopback; those
 * that were timed by the same speaker's marker at the same place; each take by itself where nothing timed it.
 */
typedef struct {
  size_t output, place, clock; /* below the problem's counts */
  const CwEdge *edge;          /* seconds on the take's clock */
  size_t edges;                /* may be 0 */
  double high_hz;              /* of the band that the edges were read from */
  double noise;                /* as in CwEdges */
} CwHeardTake;

typedef struct {
  size_t outputs, places, seats, clocks, takes;
  const size_t *place_seat; /* of each place */
  const double *distance_m; /* outputs x seats, tape measure to the head's middle; NAN where there is none */
  const double *radius_m;   /* of each output's speaker, about */
  double speed_m_per_s;     /* of sound */
  const CwHeardTake *take;
} CwFirstSoundProblem;

typedef struct {
  double seconds;       /* arrival on the take's clock; NAN for nothing to go by */
  double doubt_seconds; /* 95 % lie within this much of it */
  CwArrivalBy by;
  size_t edge;      /* the one that counts as first sound; CW_NO_EDGE for none */
  double certainty; /* 0 to 1, that it is that one */
} CwTakeArrival;

/* Sound against tape measure, for an output at a seat. */
typedef struct {
  double heard_m, heard_doubt_m; /* distance by the sound, the clock's latency from the other outputs; NAN
                                    where too few of them tell it */
  bool contradicts;              /* it cannot be the sheet's distance, whatever the doubt */
} CwHeardDistance;

typedef struct {
  CwTakeArrival *take;       /* takes */
  double *latency_seconds;   /* clocks; NAN where nothing tells it */
  CwHeardDistance *distance; /* outputs x seats */
} CwFirstSounds;

/* Speed of sound in dry air, m/s (ISO 9613-1: in proportion to the root of the absolute temperature, 343.2 at
 * 20 degrees C). */
double cw_speed_of_sound(double celsius);

/* One joint estimate over all takes: which of each take's edges is the first sound, each clock's latency and
 * each output's way to each seat, by expectation and maximisation over the edges. The microphone's place
 * within a head's few decimetres is a spread of each arrival about its output's; the sheet's distance is a
 * prior of the way that is believed until it is far off; an edge that no way explains is none. Free the
 * result with cw_first_sounds_free(). */
CwFirstSounds *cw_first_sounds_find(const CwFirstSoundProblem *problem);
void cw_first_sounds_free(CwFirstSounds *sounds);
