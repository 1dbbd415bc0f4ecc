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

CwPlace cw_place_of_speaker(CwRecord *vehicle, CwRecord *speaker);
CwPlace cw_place_of_head(CwRecord *vehicle, const char *seat);
void cw_place_set(CwRecord *record, CwPlace place);
CwRecord *cw_place_make_head(CwRecord *vehicle, const char *seat);
double cw_place_distance_cm(CwPlace one, CwPlace other);
double cw_speaker_distance_cm(CwRecord *vehicle, CwRecord *speaker, const char *seat, gboolean *measured);

G_END_DECLS
