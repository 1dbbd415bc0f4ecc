/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/job_error.h"
#include "job/tuning/refit_inputs.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* What the same tune costs on another processor, decibels: how far the sums move from what they were, and how
 * far both are from the target. */
typedef struct {
  double moved_side_db, moved_both_db;
  double before_side_db, after_side_db;
  guint filters_before, filters_after; /* of the outputs */
  CwInputsCost inputs;
} CwRefitCost;

/* Reads a processor from the text of a profile: its own record, or an intake sheet that holds one. name is
 * for errors. */
CwRecord *cw_job_read_processor(const char *text, gsize length, GError **error);

/* Writes to path a copy of the project with the other processor and the tune refitted to it: the accepted
 * takes come along, the voicing is part of the filters then, the inputs' correction is made for the other
 * processor too. The file appears when it is whole, or not at
 * all. */
gboolean cw_job_refit(CwProject *project, CwRecord *processor, const char *path, CwRefitCost *cost,
                      GError **error);

G_END_DECLS
