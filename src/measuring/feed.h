/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/stimulus/marker.h"
#include "signal/stimulus/sweep.h"

/* What is played to measure one output: silence, the sweep, silence; with a marker from another speaker
 * before and after it, if the recorder has a clock of its own. All times are seconds on the player's clock.
 */
typedef struct {
  CwSweep sweep;
  bool has_marker;
  CwMarker marker;
  unsigned repeats; /* sweeps, 1 or more, one every period_seconds from sweep_at on */
  double sweep_at, period_seconds, first_marker_at, second_marker_at;
  double seconds; /* the whole feed */
} CwSweepFeed;

#define CW_FEED_LEVEL_DBFS (-12.0)

/* The feed for a driver that may not be driven at level below lowest_hz: the sweep starts an octave lower, 24
 * dB down there. rate_hz is the player's rate, level_dbfs the sweep's peak. marker_lowest_hz: the marker
 * speaker's own limit, 0 for a feed without marker. */
CwSweepFeed cw_sweep_feed_design(double lowest_hz, double rate_hz, double level_dbfs,
                                 double marker_lowest_hz);

/* The same sweep several times (1 to CW_FEED_REPEATS_MOST), to be averaged: each doubling wins 3 dB over the
 * noise, which in a car that stands outside is cheaper than level. With a marker it stands before the first
 * sweep and after the last, and two clocks are brought to one before the mean is taken. One sweep makes
 * cw_sweep_feed_design()'s feed. */
#define CW_FEED_REPEATS_MOST 8

/* The same with repeats (1 to 8) sweeps one after the other between two markers. Frequencies in Hz, level
 * as peak in dBFS. */
CwSweepFeed cw_repeated_feed_design(double lowest_hz, double rate_hz, double level_dbfs,
                                    double marker_lowest_hz, unsigned repeats);

/* A short and quiet one, to prove by which speaker stands on which output: nothing is known of the wires yet,
 * so it starts as low in level as still can be heard. Without marker. */
#define CW_PROVING_LEVEL_DBFS (-24.0)

/* A short feed that tells which speaker sounds, not how: for the channel map. Units as above. */
CwSweepFeed cw_proving_feed_design(double lowest_hz, double rate_hz, double level_dbfs);

/* Length of the whole feed at rate_hz, samples: markers, silences and all repeats. */
size_t cw_sweep_feed_frames(const CwSweepFeed *feed, double rate_hz);

/* Fills frames of the sweep's channel, and of the marker's where marker is not NULL. */
void cw_sweep_feed_render(const CwSweepFeed *feed, double rate_hz, double *sweep, double *marker);
