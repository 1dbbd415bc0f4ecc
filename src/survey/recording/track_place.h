/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/recording/stimulus.h"

/* Where a test track lies in a recording. */
typedef enum {
  CW_PLACE_FOUND,
  CW_PLACE_NOTHING,     /* no markers */
  CW_PLACE_OTHER_TRACK, /* the markers of another track: kind says which */
  CW_PLACE_CUT_START,   /* the track's first marker is missing */
  CW_PLACE_CUT_END,     /* the last one is */
  CW_PLACE_BROKEN, /* markers, but not at any track's distances: paused, skipped, or a clock beyond 400 ppm */
} CwPlaceVerdict;

typedef struct {
  CwPlaceVerdict verdict;
  CwStimulusKind kind;
  size_t channel;        /* the one in which the markers were found */
  double player_rate_hz; /* recorder samples in a second of the player's clock */
  double player_ppm;     /* the player's clock against the recorder's */
  double start_frame; /* recorder sample at which the track's time 0 is heard; the same small constant off for
                         all channels */
  double weight; /* of player_ppm against that of other recordings: 1 over its variance, up to a factor */
  double interval_seconds, middle_seconds; /* from the first marker to the last, and to the second of three,
                                              on the recorder's clock; 0 where there is none */
  double steepness; /* energy of the markers' slope over the noise in the clearest channel: how well it fixes
                       a time */
} CwTrackPlace;

/* Finds a track of the kind expected, in the loudest channel that shows one; where markers of several rounds
 * of a looping track are there, the first whole round counts. */
CwTrackPlace cw_track_place(CwStimulusKind kind, const double *const *channel, size_t channels, size_t frames,
                            double rate_hz);
