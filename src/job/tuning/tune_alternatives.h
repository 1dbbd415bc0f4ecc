/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/proposal/proposal.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Writes the three proposals into the tune's alternatives, and before them, as "previous", what is in use
 * now. To be called before the outputs are replaced; hold and rate_hz as in cw_job_write_tune(). */
void cw_tune_write_alternatives(CwRecord *tune, const CwCar *car,
                                CwProposal *const choice[CW_PROPOSAL_CHOICES], const CwProposalHold *hold,
                                double rate_hz);

G_END_DECLS
