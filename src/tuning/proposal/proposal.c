/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/proposal.h"
#include "tuning/car/mirrored_car.h"
#include "tuning/proposal/first_state.h"
#include "tuning/proposal/hold.h"
#include "tuning/proposal/places.h"
#include "tuning/proposal/processor_steps.h"
#include "tuning/proposal/proposal_work.h"
#include "tuning/proposal/search.h"
#include "tuning/proposal/tidy.h"
#include <math.h>
#include <stdint.h>
#include <string.h>

#define MOST_BOOST_DB 6.0                           /* of one filter, whatever the processor allows */
#define PROTECTED_DB (CW_SETTING_LEAST_FALL_DB + 2) /* before settings go on the grid */
#define CLOSEST_SLACK_DB                                                                                     \
  0.03 /* as few filters as the last tenth of a decibel justifies, all of them together */
#define SIMPLEST_SLACK_DB 0.25
#define SIMPLEST_MOST_DB 0.3
#define STEADY_BOOST_DB 4.0
#define STEADY_BOOST_Q 2.5
#define STEADY_CUT_Q 5.0
#define SECTIONS_ON_AVERAGE 6
#define SEVERAL_STARTS_OUTPUTS 8 /* more take too long for more than one */
#define ALL_STARTS_OUTPUTS 5
#define START_CORNER_HZ 1000.0
#define SPARSE_MATTERS 3 /* sections: with no more than that all ways are the same */
#define LEAST_GAIN 1e-5  /* part of the cost: less may be the rounding of another order of the same car */
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

/* Sections as the steadiest tune may have them. */
static void calm_sections(const CwFitProblem *problem, CwFitState *state)
{
  for (size_t o = 0; o < state->outputs; o++)
    for (size_t k = state->fixed[o]; k < state->setting[o].sections; k++) {
      CwSection *s = &state->setting[o].section[k];
      if (s->kind == CW_SECTION_ALL_PASS)
        continue;
      s->gain_db = fmin(s->gain_db, problem->limits.section_gain_most_db);
      s->q = fmin(s->q, cw_fit_q_most(problem, s->gain_db));
    }
}

static bool is_cancelled(const CwProposalWork *m)
{
  return m->problem.cancelled(m->problem.cancel_data);
}

typedef enum {
  SEARCH_MANY,      /* as many sections as the processor has, at once */
  SEARCH_FEW,       /* no more than there are on average in the end, at once */
  SEARCH_BY_AND_BY, /* no more than that, by and by */
} SearchWay;

/* Which of several searches is on. */
typedef struct {
  const CwProposalWork *m;
  size_t at, count;
} SearchProgress;

static void on_progress(double part, void *data)
{
  const SearchProgress *progress = data;
  cw_proposal_work_report(progress->m, fmax(0.1, ((double)progress->at + part) / (double)progress->count));
}

/* One way from crossovers and levels to a whole tune with as few filters as pay. */
static double search(CwProposalWork *m, CwFitState *state, SearchWay way, SearchProgress *progress)
{
  size_t most = m->problem.limits.sections;
  double one_more_db;

  if (way != SEARCH_MANY && most > SECTIONS_ON_AVERAGE)
    m->problem.limits.sections = SECTIONS_ON_AVERAGE;
  m->problem.firm = false;
  cw_search_run(&m->problem, state, way == SEARCH_BY_AND_BY, on_progress, progress);
  if (!is_cancelled(m))
    balance_seats(m, state);
  if (!is_cancelled(m))
    protect_speakers(m, state);
  m->problem.firm = true;
  cw_fit_run(&m->problem, state, 12, 1e-3);
  one_more_db = cw_search_thin(&m->problem, state, CLOSEST_SLACK_DB, SECTIONS_ON_AVERAGE * state->outputs);
  cw_tidy_and_fit(&m->problem, state);
  m->problem.limits.sections = most;
  return one_more_db;
}

/* Where a search starts: it finds the nearest valley, and several starts find a better one. */
typedef struct {
  SearchWay way;
  double corner_part; /* of the first choice of all corners above START_CORNER_HZ */
} Start;

static void shift_corners(CwFitState *state, double part)
{
  for (size_t at = 0; at < 2 * state->outputs; at++) {
    CwOutputSetting *s = &state->setting[at / 2];
    CwCrossoverSetting *pass = at % 2 == 0 ? &s->high_pass : &s->low_pass;
    if (pass->order > 0 && pass->corner_hz > START_CORNER_HZ)
      pass->corner_hz =
          fmin(fmax(part * pass->corner_hz, state->corner_least_hz[at]), state->corner_most_hz[at]);
  }
}

/* What a search changes of the problem itself, so that the next one can start from the same. */
typedef struct {
  double *seat_weight, *no_lift_below_hz;
} Freedom;

static Freedom freedom_of(const CwProposalWork *m)
{
  size_t seats = m->bands->seats, outputs = m->bands->outputs;
  Freedom freedom = {cw_alloc_real(seats), cw_alloc_real(outputs)};

  memcpy(freedom.seat_weight, m->seat_weight, seats * sizeof(double));
  memcpy(freedom.no_lift_below_hz, m->no_lift_below_hz, outputs * sizeof(double));
  return freedom;
}

static void give_freedom(CwProposalWork *m, const Freedom *freedom)
{
  memcpy(m->seat_weight, freedom->seat_weight, m->bands->seats * sizeof(double));
  memcpy(m->no_lift_below_hz, freedom->no_lift_below_hz, m->bands->outputs * sizeof(double));
}

static void clear_freedom(Freedom *freedom)
{
  cw_free(freedom->seat_weight);
  cw_free(freedom->no_lift_below_hz);
}

/* What counts is what the processor can set. */
static double cost_on_steps(const CwProposalWork *m, const CwFitState *state)
{
  CwFitState *copy = cw_fit_state_copy(state);

  cw_processor_steps_filters(&m->problem, copy);
  cw_tidy(&m->problem, copy, true);
  double cost = worst_seat(m, copy);
  cw_fit_state_free(copy);
  return cost;
}

/* The best of several starts, where few outputs leave the time for them. */
static CwFitState *closest(CwProposalWork *m, double *one_more_db)
{
  enum { STARTS = 5 };
  static const Start starts[STARTS] = {
      {SEARCH_MANY, 1}, {SEARCH_BY_AND_BY, 1}, {SEARCH_MANY, 1.15}, {SEARCH_FEW, 1.15}, {SEARCH_FEW, 1}};
  CwFitState *first = cw_first_state(&m->problem), *best = cw_fit_state_copy(first),
             *tried = cw_fit_state_copy(first);
  size_t count = first->outputs <= ALL_STARTS_OUTPUTS       ? STARTS
                 : first->outputs <= SEVERAL_STARTS_OUTPUTS ? STARTS - 1
                                                            : 1;
  Freedom open = freedom_of(m), chosen = freedom_of(m);
  double least = INFINITY;

  cw_hold_apply(m, first);
  cw_proposal_work_mark_holes(m, first);
  cw_proposal_work_report(m, 0.1);
  *one_more_db = 0;
  for (size_t k = 0; k < count && !is_cancelled(m); k++) {
    if (starts[k].way != SEARCH_MANY && m->input->limits.sections <= SPARSE_MATTERS)
      continue;
    give_freedom(m, &open);
    cw_fit_state_assign(tried, first);
    shift_corners(tried, starts[k].corner_part);
    cw_first_state_align(&m->problem, tried);
    double more_db = search(m, tried, starts[k].way, &(SearchProgress){m, k, count}),
           cost = is_cancelled(m) ? INFINITY : cost_on_steps(m, tried);
    if (cost >= (1 - LEAST_GAIN) * least)
      continue;
    least = cost;
    *one_more_db = more_db;
    cw_fit_state_assign(best, tried);
    clear_freedom(&chosen);
    chosen = freedom_of(m);
  }
  give_freedom(m, &chosen);
  clear_freedom(&open);
  clear_freedom(&chosen);
  cw_fit_state_free(first);
  cw_fit_state_free(tried);
  return best;
}

/* Delivers a copy, so that the next choice can go on from the state. */
static CwProposal *deliver(CwProposalWork *m, const CwFitState *state, double one_more_db)
{
  CwFitState *copy = cw_fit_state_copy(state);
  CwProposal *proposal = cw_proposal_work_deliver(m, copy);

  if (proposal)
    proposal->one_more_db = one_more_db;
  cw_fit_state_free(copy);
  return proposal;
}

/* Fewer filters, as long as what comes out stays within reach of the closest. */
static CwProposal *simplest(CwProposalWork *m, CwFitState *state, const CwProposal *best)
{
  CwFitState *from = cw_fit_state_copy(state);

  for (double slack_db = SIMPLEST_SLACK_DB; slack_db > 0.02 && !is_cancelled(m); slack_db *= 0.5) {
    cw_fit_state_assign(state, from);
    double one_more_db = cw_search_thin(&m->problem, state, slack_db, SIZE_MAX);
    cw_tidy_and_fit(&m->problem, state);
    CwProposal *proposal = deliver(m, state, one_more_db);
    if (proposal && proposal->result.side_db <= best->result.side_db + SIMPLEST_MOST_DB &&
        proposal->result.both_db <= best->result.both_db + SIMPLEST_MOST_DB) {
      cw_fit_state_free(from);
      return proposal;
    }
    cw_proposal_free(proposal);
  }
  cw_fit_state_assign(state, from);
  cw_fit_state_free(from);
  return deliver(m, state, best->one_more_db);
}

/* Broad and small filters, fitted to every place for itself. */
static CwProposal *steadiest(CwProposalWork *m, const CwProposalPlaces *places, CwFitState *state)
{
  CwFitProblem calm = m->problem;

  calm.bands = places->bands;
  calm.seat_weight = places->weight;
  calm.tolerance = (CwFitTolerance){0.7, 2.3, 1.5, 2.0}; /* each side at every place comes first */
  calm.lift_q_most = STEADY_BOOST_Q;
  calm.cut_q_most = STEADY_CUT_Q;
  calm.limits.section_gain_most_db = fmin(calm.limits.section_gain_most_db, STEADY_BOOST_DB);
  calm_sections(&calm, state);
  cw_fit_run(&calm, state, 12, 1e-3);
  cw_tidy_and_fit(&calm, state);
  return deliver(m, state, 0);
}

static bool make_choices(const CwProposalInput *input, CwProposal *choice[CW_PROPOSAL_CHOICES], bool all)
{
  CwProposalWork m = cw_proposal_work_begin(input);
  double one_more_db;
  CwFitState *state = closest(&m, &one_more_db);
  bool whole;

  choice[CW_PROPOSAL_CLOSEST] = deliver(&m, state, one_more_db);
  whole = choice[CW_PROPOSAL_CLOSEST] != NULL;
  if (whole && all) {
    CwProposalPlaces places = cw_proposal_places_new(&m);
    CwFitState *calm = cw_fit_state_copy(state);
    choice[CW_PROPOSAL_SIMPLEST] = simplest(&m, state, choice[CW_PROPOSAL_CLOSEST]);
    choice[CW_PROPOSAL_STEADIEST] = is_cancelled(&m) ? NULL : steadiest(&m, &places, calm);
    cw_fit_state_free(calm);
    for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
      whole &= choice[k] != NULL;
    for (int k = 0; whole && k < CW_PROPOSAL_CHOICES; k++)
      choice[k]->places_db = cw_proposal_places_db(&m, &places, choice[k]);
    cw_proposal_places_clear(&places);
  }
  cw_fit_state_free(state);
  cw_proposal_work_end(&m);
  return whole;
}

/* What was found for the car as seen from the seat, told of the car as it was given. */
static void turn_back(const CwMirroredCar *facing, CwProposal *proposal)
{
  const size_t most = CW_SETTING_MOST_SECTIONS;
  CwOutputSetting *setting = cw_alloc_bytes(proposal->outputs * sizeof *setting);
  CwSectionReason *reason = cw_alloc_bytes(proposal->outputs * most * sizeof *reason);

  for (size_t o = 0; o < proposal->outputs; o++) {
    setting[facing->order[o]] = proposal->setting[o];
    memcpy(reason + facing->order[o] * most, proposal->reason + o * most, most * sizeof *reason);
  }
  cw_free(proposal->setting);
  cw_free(proposal->reason);
  proposal->setting = setting;
  proposal->reason = reason;
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

static bool make_facing(const CwProposalInput *input, CwProposal *choice[CW_PROPOSAL_CHOICES], bool all)
{
  CwMirroredCar facing = cw_mirrored_car_of(input->car);
  CwProposalInput seen = *input;
  CwProposalHold *hold = input->hold ? cw_alloc_bytes(input->car->outputs * sizeof *hold) : NULL;

  for (size_t o = 0; hold && o < input->car->outputs; o++)
    hold[o] = input->hold[facing.order[o]];
  seen.car = &facing.car;
  seen.hold = hold;
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
    choice[k] = NULL;
  bool whole = make_choices(&seen, choice, all);
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
    if (choice[k])
      turn_back(&facing, choice[k]);
  cw_free(hold);
  cw_mirrored_car_clear(&facing);
  return whole;
}

CwProposal *cw_proposal_make(const CwProposalInput *input)
{
  CwProposal *choice[CW_PROPOSAL_CHOICES];

  make_facing(input, choice, false);
  return choice[CW_PROPOSAL_CLOSEST];
}

bool cw_proposal_make_choices(const CwProposalInput *input, CwProposal *choice[CW_PROPOSAL_CHOICES])
{
  if (make_facing(input, choice, true))
    return true;
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++) {
    cw_proposal_free(choice[k]);
    choice[k] = NULL;
  }
  return false;
}
