/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* The board of outputs by positions: what is to be measured, and what has been. */

/* The latest accepted take of an output at a position, or NULL. */
CwRecord *cw_job_find_take(CwRecord *vehicle, gint64 output, const char *position, CwPurpose purpose);

/* The positions to measure at a seat, NULL-terminated ("driver/1" ...); free with g_strfreev(). */
char **cw_job_positions(CwRecord *vehicle, const char *seat);

/* Where a position is, from the middle of the head, seen by who sits there. */
typedef struct {
  double right_cm, forward_cm, up_cm;
  const char *where; /* in words; to be translated */
} CwPositionPlace;

#define CW_POSITION_PLACES 6

/* The place of a seat's position 1, 2 ...; NULL beyond CW_POSITION_PLACES, where any other place within 12 cm
 * will do. */
const CwPositionPlace *cw_job_position_place(gint64 number);

/* The number of "driver/3": 3; 0 where there is none. */
gint64 cw_job_position_number(const char *position);

/* Whether a position is of the form SEAT/NUMBER and the vehicle has it; FALSE with error that says what was
 * expected. */
gboolean cw_job_check_position(CwRecord *vehicle, const char *position, GError **error);

G_END_DECLS
