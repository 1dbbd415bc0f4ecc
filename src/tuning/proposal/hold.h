/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/proposal/proposal_work.h"

/* Brings what the input holds into a first state: values, fixed sections, and the kinds that may not move.
 * The levels of all that is free start by what is held. */
void cw_hold_apply(const CwProposalWork *work, CwFitState *state);
