/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal.h"
#include "signal/grid.h"
#include "tuning/growth.h"
#include "tuning/start.h"
#include <math.h>
#include <string.h>

#define BANDS_PER_OCTAVE 24
#define HIGH_HZ 16500.0
#define REGROWTHS 2
#define PRUNE_DB 0.5

static void report(const CwProposalInput *input, double part)
{
  if (input->progress)
    input->progress(part, input->data);
}

static double lowest_of(const CwCar *car)
{
  double lowest = 200;
  for (size_t o = 0; o < car->outputs; o++)
    lowest = fmin(lowest, car->output[o].lowest_hz);
  return fmax(lowest, 25);
}

static double *target_at(const CwProposalInput *input, const CwBandMatrices *bands)
{
  double *target = cw_alloc_real(bands->bands);

  for (size_t b = 0; b < bands->bands; b++)
    target[b] = input->target_count ? cw_grid_interpolate(input->target_hz, input->target_db, input->target_count, bands->hz[b]) : 0;
  return target;
}

/* Delays against equal arrival become delays of the processor, the earliest 0; gains are moved together so that no path exceeds 0 dB. */
static void complete(const CwProposalInput *input, CwFitState *state)
{
  double latest = -INFINITY, peak = -INFINITY, first = INFINITY;

  for (size_t o = 0; o < state->outputs; o++)
    latest = fmax(latest, input->car->output[o].arrival_seconds - state->setting[o].delay_seconds);
  for (size_t o = 0; o < state->outputs; o++) {
    CwOutputSetting *s = &state->setting[o];
    s->delay_seconds += latest - input->car->output[o].arrival_seconds;
    first = fmin(first, s->delay_seconds);
    peak = fmax(peak, cw_setting_peak_db(s, input->limits.rate_hz));
  }
  for (size_t o = 0; o < state->outputs; o++) {
    state->setting[o].delay_seconds -= first;
    state->setting[o].gain_db -= peak;
  }
}

/* Sections are added two at a time to each output where they promise most, and all is fitted again before the next; then those that
 * turned out to do nothing make room for others. */
static CwFitResult grow(const CwFitProblem *problem, CwFitState *state)
{
  cw_fit_run(problem, state, 8, 1e-3);
  for (size_t count = 2; count <= problem->limits.sections; count += 2) {
    if (cw_growth_add(problem, state, count) == 0)
      break;
    cw_fit_run(problem, state, 6, 2e-3);
  }
  for (int round = 0; round < REGROWTHS; round++) {
    cw_growth_prune(problem, state, PRUNE_DB);
    if (cw_growth_add(problem, state, problem->limits.sections) == 0)
      break;
    cw_fit_run(problem, state, 8, 2e-3);
  }
  return cw_fit_run(problem, state, 20, 2e-4);
}

CwProposal *cw_proposal_make(const CwProposalInput *input)
{
  double low_hz = lowest_of(input->car);
  CwBandMatrices *bands = cw_band_matrices_new(input->car, low_hz, HIGH_HZ, BANDS_PER_OCTAVE);
  double *target = target_at(input, bands);
  CwFitProblem problem = {.car = input->car,
                          .bands = bands,
                          .target_db = target,
                          .limits = input->limits,
                          .tolerance = {0.8, 1.15, 0.6, 1.2},
                          .cancelled = input->cancelled,
                          .cancel_data = input->data};
  CwFitState *state = cw_start_state(&problem);
  CwProposal *proposal = cw_alloc_bytes(sizeof *proposal);

  report(input, 0.1);
  cw_start_align(&problem, state);
  report(input, 0.2);
  proposal->result = grow(&problem, state);
  report(input, 0.9);
  complete(input, state);
  proposal->outputs = state->outputs;
  proposal->setting = cw_alloc_bytes(state->outputs * sizeof *proposal->setting);
  memcpy(proposal->setting, state->setting, state->outputs * sizeof *proposal->setting);
  proposal->low_hz = low_hz;
  proposal->high_hz = HIGH_HZ;
  cw_fit_state_free(state);
  cw_free(target);
  cw_band_matrices_free(bands);
  if (input->cancelled && input->cancelled(input->data)) {
    cw_proposal_free(proposal);
    return NULL;
  }
  return proposal;
}

void cw_proposal_free(CwProposal *proposal)
{
  if (!proposal)
    return;
  cw_free(proposal->setting);
  cw_free(proposal);
}
