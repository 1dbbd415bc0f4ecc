/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/proposal/proposal.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Between the tuning room's plain settings and the vehicle's tune. */

/* Writes a proposal for the car into a tune, in place of its outputs. hold is what the proposal was made
 * with, one an output, or NULL: held values and filters are taken over from the outputs that were there, bit
 * for bit. rate_hz is the processor's. */
void cw_job_write_tune(CwRecord *tune, const CwCar *car, const CwProposal *proposal,
                       const CwProposalHold *hold, double rate_hz);

/* Says anew why filters are there whose values were changed by hand since the proposal gave its reasons. */
void cw_tune_renew_reasons(CwRecord *tune);

/* An output's own settings as they are to be held: its locked filters (or every one) become the first `fixed`
 * sections; bypassed ones are left out. hold->held is left to the caller. FALSE with error where a filter
 * cannot be made. */
gboolean cw_job_read_held(CwRecord *output, double rate_hz, gboolean every_filter, CwProposalHold *hold,
                          GError **error);

/* An output's settings, with the tune's voicing behind its own filters; bypassed filters are left out. FALSE
 * with error where a filter cannot be made at rate_hz, or there are too many. */
gboolean cw_job_read_setting(CwRecord *tune, CwRecord *output, double rate_hz, CwOutputSetting *setting,
                             GError **error);

G_END_DECLS
