/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* A take's arrival beside what the sheet lets expect. What was heard, its doubt and what it rests on are the
 * take's own. */
typedef struct {
  CwRecord *take, *speaker; /* borrowed from the vehicle */
  double sheet_cm;          /* NAN without a distance */
  double expected_ms; /* by the sheet's distance to the head's middle, on the take's clock; positions around
                         it differ by some tenths. NAN where sheet or clock do not tell it */
} CwExpectedArrival;

/* The timed takes that count for the tune, in the order of the sheet's speakers and then of positions; those
 * of one position, or for NULL of all. An array of CwExpectedArrival, the caller's. */
GArray *cw_job_list_arrivals(CwRecord *vehicle, const char *position);

/* Sets the arrival of an output's latest accepted take at a position by hand, or with NAN leaves it to the
 * takes again; findings and stages are up to date afterwards, the caller commits. The take, borrowed; NULL
 * with error where there is none that was timed, or where arrival_ms is not within its recording. */
CwRecord *cw_job_set_arrival(CwRecord *vehicle, gint64 output, const char *position, double arrival_ms,
                             GError **error);

G_END_DECLS
