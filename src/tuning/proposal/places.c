/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/places.h"

CwProposalPlaces cw_proposal_places_new(const CwProposalWork *m)
{
  CwCar apart = *m->input->car;
  size_t *seat = cw_alloc_bytes(apart.places * sizeof *seat),
         *count = cw_alloc_bytes(apart.seats * sizeof *count);
  CwProposalPlaces places = {.weight = cw_alloc_real(apart.places)};

  for (size_t p = 0; p < apart.places; p++) {
    seat[p] = p;
    count[apart.place_seat[p]]++;
  }
  for (size_t p = 0; p < apart.places; p++)
    places.weight[p] = m->seat_weight[apart.place_seat[p]] / (double)count[apart.place_seat[p]];
  apart.seats = apart.places;
  apart.place_seat = seat;
  places.bands =
      cw_band_matrices_new(&apart, m->bands->hz[0], m->bands->hz[m->bands->bands - 1], m->bands->per_octave);
  cw_free(seat);
  cw_free(count);
  return places;
}

void cw_proposal_places_clear(CwProposalPlaces *places)
{
  cw_band_matrices_free(places->bands);
  cw_free(places->weight);
}

double cw_proposal_places_db(const CwProposalWork *m, const CwProposalPlaces *places,
                             const CwProposal *proposal)
{
  CwFitProblem problem = m->problem;
  CwFitState *state = cw_fit_state_new(proposal->outputs);
  double latest = 0;

  problem.bands = places->bands;
  problem.seat_weight = places->weight;
  for (size_t o = 0; o < proposal->outputs; o++) {
    state->setting[o] = proposal->setting[o];
    state->setting[o].delay_seconds += m->input->car->output[o].arrival_seconds;
    latest = state->setting[o].delay_seconds > latest ? state->setting[o].delay_seconds : latest;
  }
  for (size_t o = 0; o < proposal->outputs; o++)
    state->setting[o].delay_seconds -= latest;
  double db = cw_fit_evaluate(&problem, state).side_db;
  cw_fit_state_free(state);
  return db;
}
