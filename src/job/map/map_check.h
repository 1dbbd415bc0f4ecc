/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "measuring/proving.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* The proving run: a short, quiet sweep through every output in turn, heard by the microphone at two places,
 * left and right of the head, with the feed itself in channel 2 (loopback). What was heard is kept in the
 * channel map. */

typedef enum { CW_PROVING_LEFT, CW_PROVING_RIGHT } CwProvingPlace;

/* The feed that proves an output, to be rendered by cw_job_render_feed(). */
gboolean cw_job_proving_feed(CwRecord *vehicle, gint64 output, CwSweepFeed *feed, double *rate_hz,
                             GError **error);

/* One output heard at one place, on its way into the vehicle. */
typedef struct {
  gint64 output;
  CwProvingPlace place;
  CwProvingHeard heard;
  CwSamples *impulse; /* NULL where nothing sounded */
  double start_seconds;
} CwProvingOutcome;

/* Analyses a recording of an output's proving feed: channel 1 the microphone, channel 2 the feed; with one
 * channel the side cannot be told. vehicle may be a snapshot, so this may run in any thread. NULL with
 * CW_JOB_ERROR_RECORDING for a recording that must be made again (clipped, disturbed, cut off, microphone
 * silent). A speaker that does not sound is an outcome. */
CwProvingOutcome *cw_job_prove_hear(CwRecord *vehicle, gint64 output, CwProvingPlace place,
                                    const CwRecording *recording, GError **error);
void cw_proving_outcome_free(CwProvingOutcome *outcome);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwProvingOutcome, cw_proving_outcome_free)

/* Puts it into the map; the caller commits. */
void cw_job_prove_store(CwProject *project, const CwProvingOutcome *outcome);

/* The name of what was heard among the project's samples; the caller's. */
char *cw_job_proving_blob(gint64 output, CwProvingPlace place);

/* After the last output: which side each was heard on, which speaker it sounds like, which outputs reach the
 * same one. An output whose right speaker was heard on the right side is proven; one that was heard elsewhere
 * is not, whatever was ticked. seat is where the microphone stood. The caller commits. */
gboolean cw_job_prove_judge(CwProject *project, const char *seat, GError **error);

/* Makes anew the map's findings from what the map holds. */
void cw_job_find_map(CwRecord *vehicle);

G_END_DECLS
