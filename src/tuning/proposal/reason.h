/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/proposal/proposal_work.h"

/* Finds why each section of the state is there; reason has room for outputs x CW_SETTING_MOST_SECTIONS.
 * Inside the room only. */
void cw_reason_find(const CwProposalWork *m, const CwFitState *state, CwSectionReason *reason);
