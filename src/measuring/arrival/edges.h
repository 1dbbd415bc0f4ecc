/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/arrival/whitened.h"

#define CW_EDGES_MOST 8
#define CW_ONSET_POINTS 48
#define CW_ONSET_RATE_HZ 96000.0
#define CW_ONSET_BEFORE_SECONDS 0.2e-3

/* A place in a response at which the speaker's first sound may be. */
typedef struct {
  double seconds;    /* after the source's first sample: the middle of the pulse */
  double height;     /* of its first half wave against the largest before or at the response's top; negative
                        where it points the other way than the feed */
  double likelihood; /* that this is the first sound, 0 to 1, by the take alone */
} CwEdge;

typedef struct {
  size_t count;               /* 0 where the response has no usable band */
  CwEdge edge[CW_EDGES_MOST]; /* by time; together at most 1 */
  double low_hz, high_hz;     /* the band they were read from */
  double noise;               /* rms of what stands before the likeliest edge, against that edge's height */
  double onset[CW_ONSET_POINTS]; /* the first sound's own shape around the likeliest edge, from
                                    CW_ONSET_BEFORE_SECONDS before it, at CW_ONSET_RATE_HZ; largest about 1 */
} CwEdges;

/* Looks for the first sound in a take's impulse response.
 *
 * The response is whitened (measuring/arrival/whitened.h). Its band has a lower end, and so what is in it
 * swings before it begins, slowly: that swing is foretold from what came before, by linear prediction of a
 * process that has only the lower end's frequencies (Wiener's one-sided predictor), and taken off. What
 * remains stays at rest until the first sound, which then leaves it in the direction of its polarity. An edge
 * is a half wave of it; it is the likelier the first sound the more it stands above all that precedes it and
 * the less it vanishes beside what follows within CW_EDGE_REACH_SECONDS, which may be stronger.
 *
 * lead_seconds: from the source's first sample to the response's largest. */
void cw_edges_find(const CwEdgeSource *source, double lead_seconds, CwEdges *edges);

#define CW_EDGE_REACH_SECONDS 12e-3
