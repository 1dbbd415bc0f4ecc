/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/proposal/proposal.h"

/* What a proposal and a refit have in common while they are made; inside the room only. */
typedef struct {
  const CwProposalInput *input;
  CwFitProblem problem;
  CwBandMatrices *bands;
  double *over_target, *seat_weight, *no_lift_below_hz, *tangent,
      *boost_most_db; /* the problem's, which may be changed here */
  bool *no_boost, *left_out;
} CwProposalWork;

/* Gathers the fit's problem from the input, which must outlive the work. End it with
 * cw_proposal_work_end(). */
CwProposalWork cw_proposal_work_begin(const CwProposalInput *input);

/* Frees what the work holds; its states are the caller's. */
void cw_proposal_work_end(CwProposalWork *making);

/* Tells the input's progress, if it has one, a part from 0 to 1. */
void cw_proposal_work_report(const CwProposalWork *making, double part);

/* Marks where lifts are refused, by the crossovers of the state. */
void cw_proposal_work_mark_holes(CwProposalWork *making, const CwFitState *state);

/* Refuses an output every lift that reaches below its lowest safe frequency, and takes out those that it has.
 */
void cw_proposal_work_refuse_low_lifts(CwProposalWork *making, CwFitState *state, size_t output);

/* Where delays are held: when, by them and the arrivals, the sound of all is to arrive (their median). FALSE
 * where none is held. */
bool cw_proposal_work_common_arrival(const CwProposalWork *work, double *seconds);

/* What is left over at one seat alone. */
CwFitResult cw_proposal_work_at_seat(const CwProposalWork *making, const CwFitState *state, size_t seat);

/* Brings the state onto the processor's grid and gives it away as settings; NULL where it was cancelled. */
CwProposal *cw_proposal_work_deliver(CwProposalWork *making, CwFitState *state);
