/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/timing.h"
#include <stdbool.h>

/* Averages the repeated sweeps of a recording that runs on the player's own clock: folded becomes a recording
 * of one sweep, the silence before it and its tail, with the noise of all. Returns whether the sweeps
 * disagree by more than their noise explains: then the microphone moved or something came between. folded's
 * channels are the caller's, to be cleared by cw_averaged_repeats_clear(). */
bool cw_average_repeats(const CwTakeInput *input, CwTakeInput *folded);
void cw_averaged_repeats_clear(CwTakeInput *folded);

/* The repeated sweeps between two markers, of a recorder with a clock of its own. */
typedef struct {
  bool found;        /* both markers; without them nothing else is set */
  bool disagree;     /* more than noise explains, and no single one of them is to blame */
  CwSweepFeed feed;  /* the sweep that input holds: one, without marker */
  CwTakeInput input; /* of feed, on the player's clock */
  CwFeedPlace place; /* of the sweep in input */
} CwMarkedRepeats;

/* Brings the recording to the player's clock and averages its sweeps. One of three or more that alone differs
 * from the others (a door, a voice) is left out. What stands before the sweep in fold's input is a sum of the
 * repeats in which the sweep cancels and the noise is as strong as in their mean: so it is known from the
 * time of the sweeps themselves. fold points into itself and is the caller's, to be cleared by
 * cw_marked_repeats_clear(). */
void cw_average_between_markers(const CwTakeInput *input, CwMarkedRepeats *fold);
void cw_marked_repeats_clear(CwMarkedRepeats *fold);
