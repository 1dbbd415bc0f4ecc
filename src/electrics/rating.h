/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "electrics/cable.h"
#include "electrics/provenance.h"

#define CW_RATING_INSULATION_CELSIUS 60 /* the insulation that every rating is for */

/* A current that a cable bears without end, and what it rests on. */
typedef struct {
  double current_a; /* NAN for a size that is none */
  int gauge;        /* the American gauge whose published current it is; 0 is 1/0, -1 is 2/0 and so on */
  CwProvenance provenance;
} CwCableRating;

/* The allowable current of a cable, size above 0 mm2, material as laid.
 *
 * Copper of 18 gauge (0.82 mm2) and more, CW_PUBLISHED: the current that 33 CFR 183.425, Table 5 (US law for
 * boats; the nearest published one for wiring below 50 V, and local codes for vehicles come first) allows for
 * insulation of 60 degrees C in air of 30 degrees C, of the largest gauge that is not larger than the size by
 * more than 1 %, which sizes written in round numbers need. It is never put between two gauges. Above 4/0 it
 * stays. The column of 60 degrees C is taken because the sheet does not know the insulation: it is below what
 * the same law allows for insulation of 105 degrees C in an engine's space.
 *
 * CW_DERIVED: below 18 gauge, in proportion to the area, as thin wire cools better than thick; other metals,
 * by the root of their resistance to copper's, for the same heat. */
CwCableRating cw_cable_rating(double size_mm2, CwMaterial material);
