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

/* The feed for a processor's inputs, at the rate of its settings; kept quiet while they leave a speaker
 * unprotected. */
CwSweepFeed cw_job_proof_feed(CwRecord *vehicle, double *rate_hz);

/* One measurement; it was accepted and kept if faults is 0. */
typedef struct {
  unsigned faults; /* CwTakeFault */
  char **reasons;
  char *name; /* under which its impulse response is kept; NULL for a refused one, as is the response */
  CwSamples *samples;
} CwProofTake;

/* Analyses a recording of the proof's feed, played into a side's input (both: into the two at once). Any
 * thread, with a snapshot of the vehicle. A take that is refused for its quality is an outcome, not an error.
 */
CwProofTake *cw_job_proof_analyse(CwRecord *vehicle, CwSum side, const char *position,
                                  const CwRecording *recording, GError **error);

/* Keeps an accepted measurement's impulse response in the project. The caller judges and commits. */
void cw_job_proof_store(CwProject *project, const CwProofTake *take);

/* Both at once. */
CwProofTake *cw_job_proof_add(CwProject *project, CwSum side, const char *position,
                              const CwRecording *recording, GError **error);
void cw_proof_take_free(CwProofTake *take);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwProofTake, cw_proof_take_free)

/* Whether a side was measured at a position with the settings as they are now. */
gboolean cw_job_proof_has(CwProject *project, CwSum side, const char *position);

/* Compares what was measured with the settings loaded with what is predicted for them, seat by seat, as rows
 * of the vehicle's proof with findings and states; the caller commits. Levels are compared over thirds of an
 * octave, power means over the positions; the spread is that of the places' mean. FALSE with error where the
 * prediction cannot be made. */
gboolean cw_job_judge_proof(CwProject *project, GError **error);

/* Whether there is a proof, and it is one of the settings as they are now. */
gboolean cw_job_proof_is_current(CwRecord *vehicle);

G_END_DECLS
