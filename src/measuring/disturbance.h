/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/timing.h"
#include <stdbool.h>

/* Energy in a recorded sweep where neither the speaker nor its harmonics put any. */
typedef struct {
  bool disturbed; /* far below the sweep's frequency, or short and broad: something else sounded */
  double rattle_hz,
      rattle_db; /* far above it, for as long as one exciting frequency lasts; NAN, NAN for none */
} CwDisturbance;

/* sweep_frame: the recorder sample at which the sweep began to sound at the microphone. */
CwDisturbance cw_disturbance_find(const CwTakeInput *input, const CwFeedPlace *place, double sweep_frame);
