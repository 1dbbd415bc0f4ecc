/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/record.h"

G_BEGIN_DECLS

typedef enum { CW_CHANGE_VALUE, CW_CHANGE_ADDED, CW_CHANGE_GONE } CwChangeKind;

/* One difference between two states of a record. */
typedef struct {
  CwChangeKind kind;
  char *path; /* "speakers[2].lowest_hz", as errors name places; of the later state, or the earlier where it
                 is gone */
  char *what; /* in the reader's language: "Speakers, front left mid: Lowest safe frequency" */
  char *before, *after;           /* JSON; NULL where it was or is not there */
  char *said_before, *said_after; /* for people; "" for nothing */
} CwChange;

/* What differs between two states of a record of the same kind, in the order of its table: an array of
 * CwChange that the caller unrefs. `only`, which ends with CW_NO_FIELD, limits it to those fields of the
 * record; NULL for all. */
GPtrArray *cw_compare_records(CwRecord *before, CwRecord *after, const CwFieldId *only);

G_END_DECLS
