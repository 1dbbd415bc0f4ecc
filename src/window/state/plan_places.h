/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Where things are in the cabin: centimetres behind the windscreen's foot, right of the left wall, above the
 * floor. */
typedef struct {
  double x_cm, y_cm, z_cm;
  gboolean known; /* FALSE where it is only supposed, from way and side */
} CwPlace;

/* Where a speaker is, or is supposed to be. */
CwPlace cw_place_of_speaker(CwRecord *vehicle, CwRecord *speaker);

/* Where the head at a seat is. Without a place: the driver on the driver's side, the passenger on the other,
 * further seats behind. */
CwPlace cw_place_of_head(CwRecord *vehicle, const char *seat);

/* Puts a speaker or head at a place, on whole centimetres. */
void cw_place_set(CwRecord *record, CwPlace place);

/* The record of a seat's head, made if there is none yet; borrowed. */
CwRecord *cw_place_make_head(CwRecord *vehicle, const char *seat);
double cw_place_distance_cm(CwPlace one, CwPlace other);

/* From a speaker to the head at a seat: what the tape measure said, else what the drawing says if both places
 * are known, else NaN. */
double cw_speaker_distance_cm(CwRecord *vehicle, CwRecord *speaker, const char *seat, gboolean *measured);

G_END_DECLS
