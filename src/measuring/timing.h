/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/take.h"
#include <stdbool.h>

/* Where the feed lies in a recording. */
typedef struct {
  bool found;
  double player_rate_hz;  /* recorder samples in a second of the player's clock: the rate at which to render
                             the feed */
  double player_ppm;      /* the player's clock against the recorder's */
  double reference_frame; /* the recorder sample at which an undelayed sweep would begin; for CW_TIMING_NONE
                             unset */
  double agreement;       /* of the two markers as cw_marker_agreement() has it; NAN where they do not tell */
} CwFeedPlace;

/* Finds the feed by loopback or markers. */
CwFeedPlace cw_feed_place(const CwTakeInput *input);
