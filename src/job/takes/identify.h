/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/takes/heard_car.h"
#include "measuring/arrival/identity.h"

G_BEGIN_DECLS

/* Whether each output's takes hold the sheet's speaker, one of car->outputs each; free with g_free(). */
CwSpeakerIdentity *cw_job_identify(CwRecord *vehicle, const CwHeardCar *car);

/* A place that cannot be where its takes say it is. */
typedef struct {
  const char *position; /* borrowed from a take */
  const char *seat;     /* whose distances it fits; NULL where none */
  double off_m;         /* rms over the outputs, against the other places of its seat */
} CwMisplacedPosition;

/* Positions at which all outputs together arrive as they cannot within a head's few decimetres; by loopback
 * alone, as a marker's clock is each place's own. most entries at the most; how many is returned. */
guint cw_job_find_misplaced_positions(CwRecord *vehicle, const CwHeardCar *car, CwMisplacedPosition *found,
                                      guint most);

G_END_DECLS
