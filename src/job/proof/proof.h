/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/recording.h"
#include "measuring/feed.h"
#include "tuning/car/prediction.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* Proof: with the settings loaded into the processor, its left input, its right input and both are measured
 * at every position, and what was measured is compared with what the takes and the settings predict. */

extern const char *const cw_proof_sides[]; /* "left", "right", "both", NULL: in the order of CwSum */

CwSweepFeed cw_job_proof_feed(CwRecord *vehicle, double *rate_hz);

/* One measurement; it was accepted and kept if faults is 0. */
typedef struct {
  unsigned faults; /* CwTakeFault */
  char **reasons;
  char *name; /* under which its impulse response is kept; NULL for a refused one, as is the response */
  CwSamples *samples;
} CwProofTake;

CwProofTake *cw_job_proof_analyse(CwRecord *vehicle, CwSum side, const char *position,
                                  const CwRecording *recording, GError **error);
void cw_job_proof_store(CwProject *project, const CwProofTake *take);
CwProofTake *cw_job_proof_add(CwProject *project, CwSum side, const char *position,
                              const CwRecording *recording, GError **error);
void cw_proof_take_free(CwProofTake *take);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwProofTake, cw_proof_take_free)

/* Whether a side was measured at a position with the settings as they are now. */
gboolean cw_job_proof_has(CwProject *project, CwSum side, const char *position);

gboolean cw_job_judge_proof(CwProject *project, GError **error);
gboolean cw_job_proof_is_current(CwRecord *vehicle);

G_END_DECLS
