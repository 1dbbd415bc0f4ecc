/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal.h"
#include "signal/grid.h"
#include "tuning/fit_model.h"
#include "tuning/growth.h"
#include "tuning/search.h"
#include "tuning/snap.h"
#include "tuning/start.h"
#include <math.h>
#include <string.h>

#define BANDS_PER_OCTAVE 24
#define HIGH_HZ 16500.0
#define BALANCES 3 /* how often the seats' weights are set anew, where several are to be served */

enum { SUMS = 3 };

static bool never(void *data)
{
  return false;
}

/* All that one proposal needs while it is made. */
typedef struct {
  const CwProposalInput *input;
  CwFitProblem problem;
  CwBandMatrices *bands;
  double *over_target, *seat_weight;
  bool *no_boost, *left_out;
} Making;

static double lowest_of(const CwCar *car)
{
  double lowest = 200;
  for (size_t o = 0; o < car->outputs; o++)
    lowest = fmin(lowest, car->output[o].lowest_hz);
  return fmax(lowest, 25);
}

static double *target_powers(const CwProposalInput *input, const CwBandMatrices *bands)
{
  double *over_target = cw_alloc_real(SUMS * bands->bands);

  for (size_t k = 0; k < SUMS * bands->bands; k++) {
    double hz = bands->hz[k % bands->bands];
    over_target[k] = input->target_count ? pow(10, -0.1 * cw_grid_interpolate(input->target_hz, input->target_db, input->target_count, hz)) : 1;
  }
  return over_target;
}

static Making begin(const CwProposalInput *input)
{
  const CwCar *car = input->car;
  Making m = {.input = input, .bands = cw_band_matrices_new(car, lowest_of(car), fmin(HIGH_HZ, 0.4 * input->limits.rate_hz), BANDS_PER_OCTAVE)};

  m.over_target = target_powers(input, m.bands);
  m.seat_weight = cw_alloc_real(car->seats);
  for (size_t seat = 0; seat < car->seats; seat++)
    m.seat_weight[seat] = 1.0 / (double)car->seats;
  m.left_out = cw_alloc_bytes(SUMS * m.bands->bands * sizeof *m.left_out);
  m.no_boost = cw_alloc_bytes(car->outputs * m.bands->bands * sizeof *m.no_boost);
  m.problem = (CwFitProblem){.car = car,
                             .bands = m.bands,
                             .over_target = m.over_target,
                             .seat_weight = m.seat_weight,
                             .no_boost = m.no_boost,
                             .left_out = m.left_out,
                             .limits = input->limits,
                             .tolerance = {0.8, 1.15, 0.6, 1.2},
                             .cancelled = input->cancelled ? input->cancelled : never,
                             .cancel_data = input->data};
  return m;
}

static void end(Making *m)
{
  cw_band_matrices_free(m->bands);
  cw_free(m->over_target);
  cw_free(m->seat_weight);
  cw_free(m->no_boost);
  cw_free(m->left_out);
}

static void report(const Making *m, double part)
{
  if (m->input->progress)
    m->input->progress(part, m->input->data);
}

static void mark_holes(Making *m, const CwFitState *state)
{
  bool has_stage = false; /* beside which full-range speakers are fill */

  for (size_t o = 0; o < state->outputs; o++)
    has_stage |= m->input->car->output[o].way == CW_CAR_HIGH;
  for (size_t o = 0; o < state->outputs; o++) {
    const CwOutputSetting *s = &state->setting[o];
    const CwCarOutput *output = &m->input->car->output[o];
    bool *no_boost = m->no_boost + o * m->bands->bands;
    cw_hole_mark(m->bands, m->seat_weight, o, s->high_pass.order ? s->high_pass.corner_hz : 20, s->low_pass.order ? s->low_pass.corner_hz : HIGH_HZ,
                 no_boost);
    /* Within an output's own band its hole is the sum's. */
    for (size_t k = 0; k < SUMS * m->bands->bands; k++) {
      size_t sum = k / m->bands->bands;
      if (no_boost[k % m->bands->bands] && !(output->way == CW_CAR_FULL && has_stage) && (sum == 2 || output->mix[sum] != 0))
        m->left_out[k] = true;
    }
  }
}

/* --- several seats ----------------------------------------------------------------------------------------------------- */

static CwFitResult at_seat(const Making *m, const CwFitState *state, size_t seat)
{
  double *weight = cw_alloc_real(m->bands->seats);
  CwFitProblem problem = m->problem;

  weight[seat] = 1;
  problem.seat_weight = weight;
  CwFitResult result = cw_fit_evaluate(&problem, state);
  cw_free(weight);
  return result;
}

static double worst_seat(const Making *m, const CwFitState *state)
{
  double worst = 0;
  for (size_t seat = 0; seat < m->bands->seats; seat++)
    worst = fmax(worst, at_seat(m, state, seat).cost);
  return worst;
}

/* The seat that fares worst gets more weight, as long as that helps it. */
static void balance_seats(Making *m, CwFitState *state)
{
  CwFitState *tried = cw_fit_state_copy(state);
  double worst = worst_seat(m, state);

  for (int k = 0; k < BALANCES && m->bands->seats > 1; k++) {
    double total = 0;
    for (size_t seat = 0; seat < m->bands->seats; seat++)
      total += m->seat_weight[seat] *= at_seat(m, tried, seat).cost;
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

/* --- from the fit's state to a processor's settings ---------------------------------------------------------------------- */

/* Delays against equal arrival become delays of the processor, the earliest 0. */
static void set_delays(const Making *m, CwFitState *state, double *wanted_seconds)
{
  const CwCar *car = m->input->car;
  double latest = -INFINITY, first = INFINITY;

  for (size_t o = 0; o < state->outputs; o++)
    latest = fmax(latest, car->output[o].arrival_seconds - state->setting[o].delay_seconds);
  for (size_t o = 0; o < state->outputs; o++) {
    state->setting[o].delay_seconds += latest - car->output[o].arrival_seconds;
    first = fmin(first, state->setting[o].delay_seconds);
  }
  *wanted_seconds = 0;
  for (size_t o = 0; o < state->outputs; o++) {
    double wanted = state->setting[o].delay_seconds - first;
    *wanted_seconds = fmax(*wanted_seconds, wanted);
    state->setting[o].delay_seconds = cw_limits_delay_seconds(&m->input->limits, wanted);
  }
}

static double peak_of(const CwFitState *state, double rate_hz)
{
  double peak = -INFINITY;
  for (size_t o = 0; o < state->outputs; o++)
    peak = fmax(peak, cw_setting_peak_db(&state->setting[o], rate_hz));
  return peak;
}

/* Gains are moved together so that no path exceeds 0 dB and no gain the processor's most, also on its steps. */
static void set_gains(const CwLimits *limits, CwFitState *state)
{
  double shift = peak_of(state, limits->rate_hz);

  for (size_t o = 0; o < state->outputs; o++)
    shift = fmax(shift, state->setting[o].gain_db - limits->gain_most_db);
  for (size_t o = 0; o < state->outputs; o++)
    state->setting[o].gain_db = cw_limits_gain_db(limits, state->setting[o].gain_db - shift);
  if (limits->gain_step_db > 0 && peak_of(state, limits->rate_hz) > 0.01)
    for (size_t o = 0; o < state->outputs; o++)
      state->setting[o].gain_db = cw_limits_gain_db(limits, state->setting[o].gain_db - limits->gain_step_db);
}

static CwFitResult against_target(const Making *m, const CwFitState *state)
{
  CwFitProblem problem = m->problem;
  double *over_target = target_powers(m->input, m->bands);

  problem.over_target = over_target;
  CwFitResult result = cw_fit_evaluate(&problem, state);
  cw_free(over_target);
  return result;
}

static CwProposal *deliver(Making *m, CwFitState *state)
{
  CwProposal *p = cw_alloc_bytes(sizeof *p);

  p->free_result = cw_fit_evaluate(&m->problem, state);
  p->result = cw_snap_filters(&m->problem, state);
  p->target_result = against_target(m, state);
  cw_growth_drop_flat(state, 0.05);
  p->seats = m->bands->seats;
  p->seat_result = cw_alloc_bytes(p->seats * sizeof *p->seat_result);
  for (size_t seat = 0; seat < p->seats; seat++)
    p->seat_result[seat] = at_seat(m, state, seat);
  p->hole = cw_alloc_bytes(CW_HOLES_MOST * sizeof *p->hole);
  p->holes = cw_hole_find(&m->problem, state, p->hole);
  p->low_hz = m->bands->hz[0];
  p->high_hz = m->bands->hz[m->bands->bands - 1];
  set_delays(m, state, &p->delay_wanted_seconds);
  set_gains(&m->input->limits, state);
  p->outputs = state->outputs;
  p->setting = cw_alloc_bytes(state->outputs * sizeof *p->setting);
  memcpy(p->setting, state->setting, state->outputs * sizeof *p->setting);
  if (!m->problem.cancelled(m->problem.cancel_data))
    return p;
  cw_proposal_free(p);
  return NULL;
}

CwProposal *cw_proposal_make(const CwProposalInput *input)
{
  Making m = begin(input);
  CwFitState *state = cw_start_state(&m.problem);

  mark_holes(&m, state);
  report(&m, 0.1);
  cw_start_align(&m.problem, state);
  cw_search_run(&m.problem, state, input->progress, input->data);
  balance_seats(&m, state);
  CwProposal *proposal = deliver(&m, state);
  cw_fit_state_free(state);
  end(&m);
  return proposal;
}

/* --- the same tune for another processor ------------------------------------------------------------------------------- */

/* The target becomes what the settings give now, averaged over the seats. */
static void aim_at_settings(Making *m, const CwFitState *state, const CwOutputSetting *settings)
{
  const CwBandMatrices *b = m->bands;
  size_t n = b->outputs, bands = b->bands;
  CwComplex *drive = cw_alloc_complex(n * bands);

  for (size_t o = 0; o < n; o++) {
    CwOutputSetting s = settings[o];
    s.delay_seconds = state->setting[o].delay_seconds;
    cw_setting_response(&s, m->input->limits.rate_hz, b->hz, bands, drive + o * bands);
  }
  for (size_t k = 0; k < SUMS * bands; k++) {
    size_t sum = k / bands, band = k % bands;
    double power = 0;
    for (size_t seat = 0; seat < b->seats; seat++)
      for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
          const CwCarOutput *p = &m->input->car->output[i], *q = &m->input->car->output[j];
          double mix = sum == 2 ? (p->mix[0] + p->mix[1]) * (q->mix[0] + q->mix[1]) : p->mix[sum] * q->mix[sum];
          CwComplex pair = drive[i * bands + band] * conj(drive[j * bands + band]);
          power += m->seat_weight[seat] * mix * creal(pair * b->cross[((seat * bands + band) * n + i) * n + j]);
        }
    m->over_target[k] = power > 0 ? 1 / power : 1;
  }
  cw_free(drive);
}

/* The settings as a state: crossovers as near as the processor has them, sections of the kind that the fit moves. */
static CwFitState *state_of(const Making *m, const CwOutputSetting *settings)
{
  const CwCar *car = m->input->car;
  CwFitState *state = cw_start_state(&m->problem);
  double sum = 0;

  for (size_t o = 0; o < state->outputs; o++)
    sum += settings[o].delay_seconds + car->output[o].arrival_seconds;
  for (size_t o = 0; o < state->outputs; o++) {
    CwOutputSetting *s = &state->setting[o];
    CwCrossoverSetting *pass[2] = {&s->high_pass, &s->low_pass};
    size_t kept = 0;
    *s = settings[o];
    s->delay_seconds = settings[o].delay_seconds + car->output[o].arrival_seconds - sum / (double)state->outputs;
    state->delay_most_seconds[o] = 0;
    for (int k = 0; k < 2; k++) {
      double hz = pass[k]->corner_hz;
      if (pass[k]->order == 0)
        continue;
      cw_limits_crossover(&m->input->limits, pass[k]->order, &pass[k]->family, &pass[k]->order);
      state->corner_least_hz[2 * o + (size_t)k] = k == 0 ? fmax(0.8 * hz, fmin(hz, car->output[o].lowest_hz)) : 0.8 * hz;
      state->corner_most_hz[2 * o + (size_t)k] = 1.25 * hz;
    }
    for (size_t k = 0; k < settings[o].sections; k++)
      if (settings[o].section[k].kind == CW_SECTION_PEAKING)
        s->section[kept++] = settings[o].section[k];
    s->sections = kept;
  }
  return state;
}

/* Leaves out the sections that are worth least until every output has as few as the processor. */
static void fit_in(const Making *m, CwFitState *state)
{
  for (;;) {
    CwFitState *over = cw_fit_state_copy(state);
    bool too_many = false;
    cw_growth_drop_least(&m->problem, over, INFINITY, 0, NULL);
    for (size_t o = 0; o < state->outputs; o++)
      if (state->setting[o].sections > m->input->limits.sections) {
        state->setting[o] = over->setting[o];
        too_many = true;
      }
    cw_fit_state_free(over);
    if (!too_many)
      return;
  }
}

CwProposal *cw_proposal_refit(const CwProposalInput *input, const CwOutputSetting *settings)
{
  Making m = begin(input);
  CwFitState *state = state_of(&m, settings);

  aim_at_settings(&m, state, settings);
  mark_holes(&m, state);
  fit_in(&m, state);
  cw_search_run(&m.problem, state, input->progress, input->data);
  CwProposal *proposal = deliver(&m, state);
  cw_fit_state_free(state);
  end(&m);
  return proposal;
}

void cw_proposal_free(CwProposal *proposal)
{
  if (!proposal)
    return;
  cw_free(proposal->setting);
  cw_free(proposal->seat_result);
  cw_free(proposal->hole);
  cw_free(proposal);
}
