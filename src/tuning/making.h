/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/proposal.h"

/* What a proposal and a refit have in common while they are made; inside the room only. */
typedef struct {
  const CwProposalInput *input;
  CwFitProblem problem;
  CwBandMatrices *bands;
  double *over_target, *seat_weight, *no_lift_below_hz; /* the problem's, which may be changed here */
  bool *no_boost, *left_out;
} CwMaking;

CwMaking cw_making_begin(const CwProposalInput *input);
void cw_making_end(CwMaking *making);
void cw_making_report(const CwMaking *making, double part);

/* Marks where lifts are refused, by the crossovers of the state. */
void cw_making_mark_holes(CwMaking *making, const CwFitState *state);

/* Refuses an output every lift that reaches below its lowest safe frequency, and takes out those that it has.
 */
void cw_making_refuse_low_lifts(CwMaking *making, CwFitState *state, size_t output);

/* What is left over at one seat alone. */
CwFitResult cw_making_at_seat(const CwMaking *making, const CwFitState *state, size_t seat);

/* Brings the state onto the processor's grid and gives it away as settings; NULL where it was cancelled. */
CwProposal *cw_making_deliver(CwMaking *making, CwFitState *state);
