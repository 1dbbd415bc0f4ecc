/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/take.h"
#include <stdbool.h>

/* Averages the repeated sweeps of a recording that runs on the player's own clock: folded becomes a recording
 * of one sweep, the silence before it and its tail, with the noise of all. Returns whether the sweeps
 * disagree by more than their noise explains: then the microphone moved or something came between. folded's
 * channels are the caller's, to be cleared by cw_fold_clear(). */
bool cw_fold_repeats(const CwTakeInput *input, CwTakeInput *folded);
void cw_fold_clear(CwTakeInput *folded);
