/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/proposal_work.h"
#include "signal/log_grid.h"
#include "signal/sort.h"
#include "tuning/fit/fit_model.h"
#include "tuning/fit/fit_sums.h"
#include "tuning/proposal/processor_steps.h"
#include "tuning/proposal/reason.h"
#include "tuning/proposal/section_count.h"
#include "tuning/proposal/tidy.h"
#include <math.h>
#include <string.h>

#define BANDS_PER_OCTAVE 24
#define HIGH_HZ 16500.0
#define LIFT_Q_MOST 4.0 /* narrow lifts ring, and what they fill is seldom there at the next place */
#define RATTLE_OCTAVES (1.0 / 3)
#define LIFTS_FROM 1.4     /* times the lowest safe frequency, where lifts undid what protects the speaker */
#define LOW_HIGH_HZ 4000.0 /* of woofers and subwoofers where nothing plays above them */
#define SUB_HIGH_HZ 200.0
#define LOWEST_MOST_HZ 4000.0

static bool never(void *data)
{
  return false;
}

/* Where something plays: no tune asks a lone tweeter for bass, or a lone bass for treble. */
static double lowest_of(const CwCar *car)
{
  double lowest = LOWEST_MOST_HZ;
  for (size_t o = 0; o < car->outputs; o++)
    lowest = fmin(lowest, car->output[o].lowest_hz);
  return fmax(lowest, 25);
}

static double highest_of(const CwCar *car)
{
  double highest = 0;
  for (size_t o = 0; o < car->outputs; o++) {
    CwWay way = car->output[o].way;
    highest = fmax(highest, way == CW_WAY_SUB ? SUB_HIGH_HZ : way == CW_WAY_LOW ? LOW_HIGH_HZ : HIGH_HZ);
  }
  return highest;
}

static double *target_powers(const CwProposalInput *input, const CwBandMatrices *bands)
{
  double *over_target = cw_alloc_real(CW_SUMS * bands->bands);

  for (size_t k = 0; k < CW_SUMS * bands->bands; k++) {
    double hz = bands->hz[k % bands->bands];
    over_target[k] = input->target_count
                         ? pow(10, -0.1 * cw_log_grid_interpolate(input->target_hz, input->target_db,
                                                                  input->target_count, hz))
                         : 1;
  }
  return over_target;
}

/* What rattles is not fed: around there an output's filters together do not boost. */
static double *boost_limits(const CwProposalInput *input, const CwBandMatrices *bands)
{
  double *most = cw_alloc_real(bands->outputs * bands->bands);

  for (size_t k = 0; k < bands->outputs * bands->bands; k++) {
    double rattle_hz = input->car->output[k / bands->bands].rattle_hz;
    bool rattles = rattle_hz > 0 && fabs(log2(bands->hz[k % bands->bands] / rattle_hz)) < RATTLE_OCTAVES;
    most[k] = rattles ? 0 : input->limits.section_gain_most_db;
  }
  return most;
}

CwProposalWork cw_proposal_work_begin(const CwProposalInput *input)
{
  const CwCar *car = input->car;
  CwProposalWork m = {.input = input,
                      .bands = cw_band_matrices_new(
                          car, lowest_of(car),
                          fmin(fmax(highest_of(car), 2 * lowest_of(car)), 0.4 * input->limits.rate_hz),
                          BANDS_PER_OCTAVE)};

  m.over_target = target_powers(input, m.bands);
  m.seat_weight = cw_alloc_real(car->seats);
  for (size_t seat = 0; seat < car->seats; seat++)
    m.seat_weight[seat] = 1.0 / (double)car->seats;
  m.left_out = cw_alloc_bytes(CW_SUMS * m.bands->bands * sizeof *m.left_out);
  m.no_lift_below_hz = cw_alloc_real(car->outputs);
  m.boost_most_db = boost_limits(input, m.bands);
  m.tangent = cw_alloc_real(m.bands->bands);
  for (size_t b = 0; b < m.bands->bands; b++)
    m.tangent[b] = tan(M_PI * m.bands->hz[b] / input->limits.rate_hz);
  m.no_boost = cw_alloc_bytes(car->outputs * m.bands->bands * sizeof *m.no_boost);
  m.problem = (CwFitProblem){.car = car,
                             .bands = m.bands,
                             .over_target = m.over_target,
                             .seat_weight = m.seat_weight,
                             .no_boost = m.no_boost,
                             .no_lift_below_hz = m.no_lift_below_hz,
                             .left_out = m.left_out,
                             .boost_most_db = m.boost_most_db,
                             .limits = input->limits,
                             .tangent = m.tangent,
                             .lift_q_most = LIFT_Q_MOST,
                             .tolerance = {0.8, 1.15, 0.45, 1.2},
                             .cancelled = input->cancelled ? input->cancelled : never,
                             .cancel_data = input->data};
  return m;
}

void cw_proposal_work_end(CwProposalWork *m)
{
  cw_band_matrices_free(m->bands);
  cw_free(m->over_target);
  cw_free(m->seat_weight);
  cw_free(m->no_boost);
  cw_free(m->tangent);
  cw_free(m->boost_most_db);
  cw_free(m->no_lift_below_hz);
  cw_free(m->left_out);
}

void cw_proposal_work_report(const CwProposalWork *m, double part)
{
  if (m->input->progress)
    m->input->progress(part, m->input->data);
}

/* Where only one side has speakers besides the bass, the other's sum cannot be full and is not judged. */
static void leave_out_empty_sides(CwProposalWork *m)
{
  const CwCar *car = m->input->car;
  bool plays[2] = {false, false};

  for (size_t o = 0; o < car->outputs; o++)
    for (size_t sum = 0; sum < 2; sum++)
      plays[sum] |= car->output[o].way != CW_WAY_SUB && car->output[o].mix[sum] != 0;
  for (size_t sum = 0; sum < 2; sum++)
    if (!plays[sum] && plays[1 - sum])
      for (size_t b = 0; b < m->bands->bands; b++)
        m->left_out[sum * m->bands->bands + b] = true;
}

/* Whether something beside the stage plays in the sum there and can fill what the stage leaves. */
static bool is_filled(const CwProposalWork *m, const CwFitState *state, size_t sum, size_t band)
{
  double hz = m->bands->hz[band];

  for (size_t o = 0; o < state->outputs; o++) {
    const CwCarOutput *output = &m->input->car->output[o];
    const CwOutputSetting *s = &state->setting[o];
    if (output->beside && (sum == CW_SUM_BOTH || output->mix[sum] != 0) && hz > s->high_pass.corner_hz &&
        (s->low_pass.order == 0 || hz < s->low_pass.corner_hz) && !m->no_boost[o * m->bands->bands + band])
      return true;
  }
  return false;
}

/* Within an output's own band its hole is the sum's. */
static void leave_out_holes(CwProposalWork *m, const CwFitState *state)
{
  size_t bands = m->bands->bands;

  for (size_t o = 0; o < state->outputs; o++) {
    const CwCarOutput *output = &m->input->car->output[o];
    for (size_t k = 0; k < CW_SUMS * bands && !output->beside; k++)
      if (m->no_boost[o * bands + k % bands] && (k / bands == CW_SUM_BOTH || output->mix[k / bands] != 0) &&
          !is_filled(m, state, k / bands, k % bands))
        m->left_out[k] = true;
  }
}

void cw_proposal_work_mark_holes(CwProposalWork *m, const CwFitState *state)
{
  leave_out_empty_sides(m);
  for (size_t o = 0; o < state->outputs; o++) {
    const CwOutputSetting *s = &state->setting[o];
    bool *no_boost = m->no_boost + o * m->bands->bands;
    cw_null_mark(m->bands, m->seat_weight, o, s->high_pass.order ? s->high_pass.corner_hz : 20,
                 s->low_pass.order ? s->low_pass.corner_hz : HIGH_HZ, no_boost);
  }
  leave_out_holes(m, state);
  for (size_t k = 0; k < state->outputs * m->bands->bands; k++)
    m->no_boost[k] |= m->boost_most_db[k] <= 0;
}

void cw_proposal_work_refuse_low_lifts(CwProposalWork *m, CwFitState *state, size_t output)
{
  double below_hz = LIFTS_FROM * m->input->car->output[output].lowest_hz;
  CwOutputSetting *s = &state->setting[output];

  m->no_lift_below_hz[output] = below_hz;
  for (size_t k = 0; k < s->sections; k++)
    if (s->section[k].gain_db > 0 && s->section[k].frequency_hz < below_hz)
      s->section[k].gain_db = 0;
}

CwFitResult cw_proposal_work_at_seat(const CwProposalWork *m, const CwFitState *state, size_t seat)
{
  double *weight = cw_alloc_real(m->bands->seats);
  CwFitProblem problem = m->problem;

  weight[seat] = 1;
  problem.seat_weight = weight;
  CwFitResult result = cw_fit_evaluate(&problem, state);
  cw_free(weight);
  return result;
}

/* --- from the fit's state to a processor's settings --- */

static bool is_held(const CwProposalWork *m, size_t output, unsigned kind)
{
  return m->input->hold && (m->input->hold[output].held & kind);
}

bool cw_proposal_work_common_arrival(const CwProposalWork *m, double *seconds)
{
  double *arrival = cw_alloc_real(m->input->car->outputs);
  size_t count = 0;

  for (size_t o = 0; o < m->input->car->outputs; o++)
    if (is_held(m, o, CW_FIT_DELAY))
      arrival[count++] = m->input->hold[o].setting.delay_seconds + m->input->car->output[o].arrival_seconds;
  *seconds = cw_median(arrival, count);
  cw_free(arrival);
  return count > 0;
}

/* What plays nothing may not hold up the others. */
static bool is_off(const CwProposalWork *m, size_t output)
{
  return m->input->car->output[output].role == CW_ROLE_OFF && !is_held(m, output, CW_FIT_DELAY);
}

/* Delays against equal arrival become delays of the processor: those that are held as they are and the others
 * to match them, else the earliest 0. */
static void set_delays(const CwProposalWork *m, CwFitState *state, double *wanted_seconds)
{
  const CwCar *car = m->input->car;
  double common, latest = -INFINITY, first = INFINITY;
  bool anchored = cw_proposal_work_common_arrival(m, &common);

  for (size_t o = 0; o < state->outputs; o++)
    if (!is_off(m, o))
      latest = fmax(latest, car->output[o].arrival_seconds - state->setting[o].delay_seconds);
  for (size_t o = 0; o < state->outputs; o++) {
    state->setting[o].delay_seconds += (anchored ? common : latest) - car->output[o].arrival_seconds;
    if (!is_off(m, o))
      first = fmin(first, state->setting[o].delay_seconds);
  }
  if (anchored || isinf(first))
    first = 0;
  *wanted_seconds = 0;
  for (size_t o = 0; o < state->outputs; o++) {
    double wanted = is_off(m, o) ? 0 : state->setting[o].delay_seconds - first;
    *wanted_seconds = fmax(*wanted_seconds, wanted);
    state->setting[o].delay_seconds = is_held(m, o, CW_FIT_DELAY)
                                          ? m->input->hold[o].setting.delay_seconds
                                          : cw_limits_delay_seconds(&m->input->limits, wanted);
  }
}

static double peak_of(const CwFitState *state, double rate_hz)
{
  double peak = -INFINITY;
  for (size_t o = 0; o < state->outputs; o++)
    peak = fmax(peak, cw_setting_peak_db(&state->setting[o], rate_hz));
  return peak;
}

/* Gains are moved together so that no path exceeds 0 dB and no gain the processor's most, also on its steps.
 * Where one is held, the others keep to it. */
static void set_gains(const CwProposalWork *m, CwFitState *state)
{
  const CwLimits *limits = &m->input->limits;
  double shift = peak_of(state, limits->rate_hz);
  bool anchored = false;

  for (size_t o = 0; o < state->outputs; o++) {
    shift = fmax(shift, state->setting[o].gain_db - limits->gain_most_db);
    anchored |= is_held(m, o, CW_FIT_GAIN);
  }
  for (size_t o = 0; o < state->outputs; o++)
    if (!is_held(m, o, CW_FIT_GAIN))
      state->setting[o].gain_db =
          cw_limits_gain_db(limits, state->setting[o].gain_db - (anchored ? 0 : shift));
  if (!anchored && limits->gain_step_db > 0 && peak_of(state, limits->rate_hz) > 0.01)
    for (size_t o = 0; o < state->outputs; o++)
      state->setting[o].gain_db = cw_limits_gain_db(limits, state->setting[o].gain_db - limits->gain_step_db);
}

/* Mean level of the sum of both sides where the ear is most awake, for full scale on both inputs. */
static double level_of(const CwProposalWork *m, const CwFitState *state)
{
  size_t bands = m->bands->bands, count = 0;
  CwComplex *drive = cw_alloc_complex(state->outputs * bands),
            *force = cw_alloc_complex(state->outputs * bands);
  double *power = cw_alloc_real(bands), sum = 0;

  cw_fit_drives(&m->problem, state, NULL, drive, NULL);
  cw_fit_sum_power(&m->problem, drive, 0, CW_SUM_BOTH, force, power);
  for (size_t b = 0; b < bands; b++)
    if (m->bands->hz[b] >= 200 && m->bands->hz[b] <= 5000 && power[b] > 0) {
      sum += 10 * log10(power[b] / m->over_target[CW_SUM_BOTH * bands + b]);
      count++;
    }
  cw_free(drive);
  cw_free(force);
  cw_free(power);
  return count ? sum / (double)count : 0;
}

static CwFitResult against_target(const CwProposalWork *m, const CwFitState *state)
{
  CwFitProblem problem = m->problem;
  double *over_target = target_powers(m->input, m->bands);

  problem.over_target = over_target;
  CwFitResult result = cw_fit_evaluate(&problem, state);
  cw_free(over_target);
  return result;
}

void cw_proposal_free(CwProposal *proposal)
{
  if (!proposal)
    return;
  cw_free(proposal->reason);
  cw_free(proposal->setting);
  cw_free(proposal->seat_result);
  cw_free(proposal->hole);
  cw_free(proposal);
}

CwProposal *cw_proposal_work_deliver(CwProposalWork *m, CwFitState *state)
{
  if (m->problem.cancelled(m->problem.cancel_data))
    return NULL;
  CwProposal *p = cw_alloc_bytes(sizeof *p);
  p->free_result = cw_fit_evaluate(&m->problem, state);
  cw_processor_steps_filters(&m->problem, state);
  cw_tidy(&m->problem, state, true);
  p->result = cw_fit_evaluate(&m->problem, state);
  p->target_result = against_target(m, state);
  p->reason = cw_alloc_bytes(state->outputs * CW_SETTING_MOST_SECTIONS * sizeof *p->reason);
  cw_reason_find(m, state, p->reason);
  p->seats = m->bands->seats;
  p->seat_result = cw_alloc_bytes(p->seats * sizeof *p->seat_result);
  for (size_t seat = 0; seat < p->seats; seat++)
    p->seat_result[seat] = cw_proposal_work_at_seat(m, state, seat);
  p->hole = cw_alloc_bytes(CW_NULLS_MOST * sizeof *p->hole);
  p->holes = cw_null_find(&m->problem, state, p->hole);
  p->low_hz = m->bands->hz[0];
  p->high_hz = m->bands->hz[m->bands->bands - 1];
  double level_db = level_of(m, state), gain_db = state->setting[0].gain_db;
  set_delays(m, state, &p->delay_wanted_seconds);
  set_gains(m, state);
  p->level_db = level_db + state->setting[0].gain_db - gain_db;
  p->outputs = state->outputs;
  p->setting = cw_alloc_bytes(state->outputs * sizeof *p->setting);
  memcpy(p->setting, state->setting, state->outputs * sizeof *p->setting);
  if (!m->problem.cancelled(m->problem.cancel_data))
    return p;
  cw_proposal_free(p);
  return NULL;
}
