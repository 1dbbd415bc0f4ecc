/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/arrival/edges.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* What edges are looked for in: a take's kept impulse response with its sweep's ends and its noise. */
typedef struct {
  CwSamples *samples;
  double *snr_hz, *snr_db;
  CwEdgeSource edges; /* points into the others */
} CwTakeSource;

/* Reads a take's source; FALSE with error where its samples cannot be read. Clear it in both cases. */
gboolean cw_take_source_read(CwProject *project, CwRecord *take, CwTakeSource *source, GError **error);
void cw_take_source_clear(CwTakeSource *source);

/* Puts the edges that a take's analysis found into its record, with the likeliest as its arrival for the time
 * being. */
void cw_job_write_edges(CwRecord *take, const CwEdges *edges, gboolean timed);

/* Finds the edges of takes that have none, in their kept impulse responses: they were analysed before there
 * were edges. FALSE with error where samples cannot be read. */
gboolean cw_job_find_missing_edges(CwProject *project, GError **error);

/* Whether a take's first sound, the edge that its arrival is at or else the likeliest, points the other way
 * than the feed. */
gboolean cw_job_first_sound_is_inverted(CwRecord *take);

/* Brings arrival, its doubt and its ground, polarity and its certainty of every take up to date with all that
 * the vehicle holds. What a person set by hand stays. */
void cw_job_settle_first_sounds(CwRecord *vehicle);

G_END_DECLS
