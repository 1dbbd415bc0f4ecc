/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* What another processor does to the inputs' correction: how flat the mix of the leads is before and after,
 * with the range over which that holds (NAN where there is no survey), the filters, and what became of inputs
 * that hands had changed. */
typedef struct {
  double before_db, before_low_hz, before_high_hz;
  double after_db, after_low_hz, after_high_hz;
  guint filters_before, filters_after;
  guint kept_by_hand; /* brought onto the new processor's steps */
  guint redone;       /* worked out anew, as the new processor cannot do what hands had set */
} CwInputsCost;

/* Brings the inputs of a vehicle's tune to its processor, which is another than they were made for:
 * those that the survey worked out are worked out anew within its limits, those that hands changed are kept
 * on its steps if it can do them. To be called once the tune has its new sample rate; what
 * cw_job_weigh_inputs told before is completed. */
void cw_job_refit_inputs(CwRecord *vehicle, CwInputsCost *cost);

/* The part of the cost that is known before. */
void cw_job_weigh_inputs(CwRecord *vehicle, CwInputsCost *cost);

G_END_DECLS
