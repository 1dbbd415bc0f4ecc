/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/proposal/proposal_work.h"

/* The car with every place of the microphone for itself, in the bands of the work. */
typedef struct {
  CwBandMatrices *bands; /* its seats are the car's places */
  double *weight;        /* of every place, by its seat's; they sum to 1 */
} CwProposalPlaces;

/* Of the work's car, in its bands. Clear with cw_proposal_places_clear(). */
CwProposalPlaces cw_proposal_places_new(const CwProposalWork *work);

/* Frees what it holds. */
void cw_proposal_places_clear(CwProposalPlaces *places);

/* How far the sides are from the target at every place for itself, root mean square, averaged by the places'
 * weights, dB, with a proposal's settings. */
double cw_proposal_places_db(const CwProposalWork *work, const CwProposalPlaces *places,
                             const CwProposal *proposal);
