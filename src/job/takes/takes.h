/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "measuring/take.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* One recorded take on its way into the vehicle. */
typedef struct {
  CwRecord *take;     /* its record, complete */
  CwSamples *impulse; /* the impulse response to keep with it; NULL for a refused take without one */
} CwTakeOutcome;

/* Analyses a recording of an output's feed at a position ("driver/3"). vehicle may be a snapshot, so this may
 * run in any thread. timing is CW_TIMING_LOOPBACK (channel 2 of the recording is the feed), CW_TIMING_MARKER
 * or CW_TIMING_NONE; A take that is refused for its quality is an
 * outcome, not an error: errors are for what cannot be analysed at all. */
CwTakeOutcome *cw_job_analyse_take(CwRecord *vehicle, gint64 output, const char *position,
                                   CwTakeTiming timing, CwPurpose purpose, const CwRecording *recording,
                                   GError **error);
void cw_take_outcome_free(CwTakeOutcome *outcome);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwTakeOutcome, cw_take_outcome_free)

/* Puts the outcome into the project's vehicle and its findings up to date; the caller commits. Returns the
 * take in the vehicle, borrowed. */
CwRecord *cw_job_store_take(CwProject *project, CwTakeOutcome *outcome);

G_END_DECLS
