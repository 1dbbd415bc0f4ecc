/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit.h"

/* From a measured car to a whole tune. */
typedef struct {
  const CwCar *car;
  const double *target_hz, *target_db; /* target curve, straight lines over log frequency */
  size_t target_count;
  CwFitLimits limits;
  double delay_most_seconds; /* of the processor */
  bool (*cancelled)(void *data);
  void (*progress)(double part, void *data); /* may be NULL */
  void *data;
} CwProposalInput;

typedef struct {
  size_t outputs;
  CwOutputSetting *setting; /* delays complete: the earliest output has 0; gains: the loudest path peaks at 0 dB */
  CwFitResult result;
  double low_hz, high_hz; /* the range that was fitted */
} CwProposal;

/* Proposes crossovers, levels, delays, polarity and filters for the car; NULL if cancelled. Free with cw_proposal_free(). Deterministic. */
CwProposal *cw_proposal_make(const CwProposalInput *input);
void cw_proposal_free(CwProposal *proposal);
