/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/stimulus/marker.h"
#include "signal/stimulus/sweep.h"

/* The test tracks that the radio plays, one for each take of a survey. Every track begins and ends with
 * silence and carries two or three markers whose distances are its own: they give clock and place of a
 * recording, and tell the tracks apart. */
typedef enum {
  CW_STIMULUS_LEADS, /* a sweep on the left channel, then one on the right: what every lead carries */
  CW_STIMULUS_FRONT, /* one sweep on both, with the fader full to the front */
  CW_STIMULUS_REAR,  /* the same with the fader full to the rear */
  CW_STIMULUS_QUIET, /* the same at a low volume */
  CW_STIMULUS_LOUD,  /* a soft sweep, then tones that rise to full scale, at the highest volume */
  CW_STIMULUS_KINDS,
} CwStimulusKind;

enum { CW_PLAYED_LEFT = 1, CW_PLAYED_RIGHT = 2, CW_PLAYED_BOTH = 3 };

typedef struct {
  double at_seconds;
  int channels; /* CW_PLAYED_... */
  CwSweep sweep;
} CwStimulusSweep;

/* A sine whose level rises evenly in dB, on both channels. */
typedef struct {
  double at_seconds, seconds, hz, low_dbfs, high_dbfs; /* levels are peaks re full scale */
} CwStimulusTone;

#define CW_STIMULUS_MOST_MARKERS 3
#define CW_STIMULUS_TONES 3
#define CW_STIMULUS_EDGE_SECONDS                                                                             \
  0.4 /* silence before the first marker, after the last, and around those between */

typedef struct {
  CwStimulusKind kind;
  CwMarker marker;
  size_t markers, sweeps, tones;
  double
      marker_at[CW_STIMULUS_MOST_MARKERS]; /* seconds on the player's clock, from the track's first sample */
  CwStimulusSweep sweep[2];
  CwStimulusTone tone[CW_STIMULUS_TONES];
  double seconds;
} CwStimulus;

/* The stimulus of a track, always the same for a kind: sweeps, tones, markers and silences with their
 * times. */
CwStimulus cw_stimulus_design(CwStimulusKind kind);

/* The word in the track's file name: "leads", "front", "rear", "quiet", "loud". */
const char *cw_stimulus_name(CwStimulusKind kind);

/* The sample count at rate_hz (a multiple of 100 Hz, so that all times fall on samples), and the samples of
 * both channels, cw_stimulus_frames() each, which are added to. */
size_t cw_stimulus_frames(const CwStimulus *stimulus, double rate_hz);
void cw_stimulus_render(const CwStimulus *stimulus, double rate_hz, double *left, double *right);

/* The level of a tone (peak, dB re full scale) at a time after its start. */
double cw_stimulus_tone_level_dbfs(const CwStimulusTone *tone, double seconds);
