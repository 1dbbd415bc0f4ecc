/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/proposal.h"
#include "tuning/car/mirrored_car.h"
#include "tuning/proposal/first_state.h"
#include "tuning/proposal/proposal_work.h"
#include "tuning/proposal/search.h"
#include <math.h>

#define MOST_BOOST_DB 6.0 /* of one filter, whatever the processor allows */
#define PROTECTED_DB (CW_SETTING_LEAST_FALL_DB + 2) /* before settings go on the grid */
#define PROTECT_ROUNDS 6 /* of exchange, to find other sections for what the lifts did */
#define BALANCES 3       /* how often the seats' weights are set anew, where several are to be served */

static double worst_seat(const CwProposalWork *m, const CwFitState *state)
{
  double worst = 0;
  for (size_t seat = 0; seat < m->bands->seats; seat++)
    worst = fmax(worst, cw_proposal_work_at_seat(m, state, seat).cost);
  return worst;
}

/* The seat that fares worst gets more weight, as long as that helps it. */
static void balance_seats(CwProposalWork *m, CwFitState *state)
{
  CwFitState *tried = cw_fit_state_copy(state);
  double worst = worst_seat(m, state);

  for (int k = 0; k < BALANCES && m->bands->seats > 1; k++) {
    double total = 0;
    for (size_t seat = 0; seat < m->bands->seats; seat++)
      total += m->seat_weight[seat] *= cw_proposal_work_at_seat(m, tried, seat).cost;
    for (size_t seat = 0; seat < m->bands->seats; seat++)
      m->seat_weight[seat] /= total;
    cw_fit_run(&m->problem, tried, 20, 1e-3);
    double now = worst_seat(m, tried);
    if (now >= worst)
      break;
    worst = now;
    cw_fit_state_assign(state, tried);
  }
  cw_fit_state_free(tried);
}

/* Lifts may not undo what protects a speaker: where they do, none is allowed at the low end of that output,
 * and all is fitted once more. */
static void protect_speakers(CwProposalWork *m, CwFitState *state)
{
  for (size_t o = 0; o < state->outputs; o++) {
    double lowest_hz = m->input->car->output[o].lowest_hz;
    if (cw_setting_fall_db(&state->setting[o], m->input->limits.rate_hz, lowest_hz) >= PROTECTED_DB)
      continue;
    cw_proposal_work_refuse_low_lifts(m, state, o);
    cw_fit_run(&m->problem, state, 20, 1e-3);
    cw_search_exchange(&m->problem, state, PROTECT_ROUNDS);
  }
}

static CwProposal *make(const CwProposalInput *input)
{
  CwProposalWork m = cw_proposal_work_begin(input);
  CwFitState *state = cw_first_state(&m.problem);

  cw_proposal_work_mark_holes(&m, state);
  cw_proposal_work_report(&m, 0.1);
  cw_first_state_align(&m.problem, state);
  cw_search_run(&m.problem, state, input->progress, input->data);
  balance_seats(&m, state);
  protect_speakers(&m, state);
  CwProposal *proposal = cw_proposal_work_deliver(&m, state);
  cw_fit_state_free(state);
  cw_proposal_work_end(&m);
  return proposal;
}

/* What was found for the car as seen from the seat, told of the car as it was given. */
static void turn_back(const CwMirroredCar *facing, CwProposal *proposal)
{
  CwOutputSetting *setting = cw_alloc_bytes(proposal->outputs * sizeof *setting);

  for (size_t o = 0; o < proposal->outputs; o++)
    setting[facing->order[o]] = proposal->setting[o];
  cw_free(proposal->setting);
  proposal->setting = setting;
  for (size_t h = 0; h < proposal->holes; h++) {
    proposal->hole[h].side = cw_mirrored_car_side(facing, proposal->hole[h].side);
    proposal->hole[h].output = facing->order[proposal->hole[h].output];
  }
}

CwLimits cw_tuning_limits(CwRecord *processor)
{
  CwLimits limits = cw_limits_of_output(processor);
  limits.section_gain_most_db = fmin(limits.section_gain_most_db, MOST_BOOST_DB);
  return limits;
}

CwProposal *cw_proposal_make(const CwProposalInput *input)
{
  CwMirroredCar facing = cw_mirrored_car_of(input->car);
  CwProposalInput seen = *input;

  seen.car = &facing.car;
  CwProposal *proposal = make(&seen);
  if (proposal)
    turn_back(&facing, proposal);
  cw_mirrored_car_clear(&facing);
  return proposal;
}
