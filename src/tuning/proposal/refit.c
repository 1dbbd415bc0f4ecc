/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/first_state.h"
#include "tuning/proposal/proposal_work.h"
#include "tuning/proposal/search.h"
#include "tuning/proposal/section_count.h"
#include <math.h>

/* The target becomes what the settings give now, averaged over the seats. */
static void aim_at_settings(CwProposalWork *m, const CwFitState *state, const CwOutputSetting *settings)
{
  const CwBandMatrices *b = m->bands;
  size_t n = b->outputs, bands = b->bands;
  CwComplex *drive = cw_alloc_complex(n * bands);

  for (size_t o = 0; o < n; o++) {
    CwOutputSetting s = settings[o];
    s.delay_seconds = state->setting[o].delay_seconds;
    cw_setting_response(&s, m->input->limits.rate_hz, b->hz, bands, drive + o * bands);
  }
  for (size_t k = 0; k < CW_SUMS * bands; k++) {
    size_t sum = k / bands, band = k % bands;
    double power = 0;
    for (size_t seat = 0; seat < b->seats; seat++)
      for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
          const CwCarOutput *p = &m->input->car->output[i], *q = &m->input->car->output[j];
          double mix =
              sum == 2 ? (p->mix[0] + p->mix[1]) * (q->mix[0] + q->mix[1]) : p->mix[sum] * q->mix[sum];
          CwComplex pair = drive[i * bands + band] * conj(drive[j * bands + band]);
          power +=
              m->seat_weight[seat] * mix * creal(pair * b->cross[((seat * bands + band) * n + i) * n + j]);
        }
    m->over_target[k] = power > 0 ? 1 / power : 1;
  }
  cw_free(drive);
}

/* Whether the fit moves such sections, and the processor has them. */
static bool has_kind(const CwLimits *limits, CwSectionKind kind)
{
  switch (kind) {
  case CW_SECTION_PEAKING:
    return true;
  case CW_SECTION_LOW_SHELF:
  case CW_SECTION_HIGH_SHELF:
    return limits->shelves;
  case CW_SECTION_ALL_PASS:
    return limits->all_pass;
  default:
    return false;
  }
}

/* The settings as a state: crossovers as near as the processor has them, sections of the kind that the fit
 * moves. */
static CwFitState *state_of(const CwProposalWork *m, const CwOutputSetting *settings)
{
  const CwCar *car = m->input->car;
  CwFitState *state = cw_first_state(&m->problem);
  double sum = 0;

  for (size_t o = 0; o < state->outputs; o++)
    sum += settings[o].delay_seconds + car->output[o].arrival_seconds;
  for (size_t o = 0; o < state->outputs; o++) {
    CwOutputSetting *s = &state->setting[o];
    CwCrossoverSetting *pass[2] = {&s->high_pass, &s->low_pass};
    size_t kept = 0;
    *s = settings[o];
    state->gain_least_db[o] = fmin(state->gain_least_db[o], s->gain_db);
    state->gain_most_db[o] = fmax(state->gain_most_db[o], s->gain_db);
    s->delay_seconds =
        settings[o].delay_seconds + car->output[o].arrival_seconds - sum / (double)state->outputs;
    state->delay_most_seconds[o] = 0;
    for (int k = 0; k < 2; k++) {
      double hz = pass[k]->corner_hz;
      if (pass[k]->order == 0)
        continue;
      cw_limits_crossover(&m->input->limits, pass[k]->order, &pass[k]->family, &pass[k]->order);
      state->corner_least_hz[2 * o + (size_t)k] =
          k == 0 ? fmax(0.8 * hz, fmin(hz, car->output[o].lowest_hz)) : 0.8 * hz;
      state->corner_most_hz[2 * o + (size_t)k] = 1.25 * hz;
    }
    for (size_t k = 0; k < settings[o].sections; k++)
      if (has_kind(&m->input->limits, settings[o].section[k].kind))
        s->section[kept++] = settings[o].section[k];
    s->sections = kept;
  }
  return state;
}

/* Where the model of the fit says nothing of what an output has: the smallest goes. */
static void drop_smallest(CwOutputSetting *s)
{
  size_t smallest = 0;

  for (size_t k = 1; k < s->sections; k++)
    if (fabs(s->section[k].gain_db) < fabs(s->section[smallest].gain_db))
      smallest = k;
  cw_section_count_drop(s, smallest);
}

/* Leaves out the sections that are worth least until every output has as few as the processor. */
static void fit_in(const CwProposalWork *m, CwFitState *state)
{
  for (;;) {
    CwFitState *over = cw_fit_state_copy(state);
    bool too_many = false;
    cw_section_count_drop_least(&m->problem, over, INFINITY, 0, NULL);
    for (size_t o = 0; o < state->outputs; o++)
      if (state->setting[o].sections > m->input->limits.sections) {
        if (over->setting[o].sections < state->setting[o].sections)
          state->setting[o] = over->setting[o];
        else
          drop_smallest(&state->setting[o]);
        too_many = true;
      }
    cw_fit_state_free(over);
    if (!too_many)
      return;
  }
}

CwProposal *cw_proposal_refit(const CwProposalInput *input, const CwOutputSetting *settings)
{
  CwProposalWork m = cw_proposal_work_begin(input);
  CwFitState *state = state_of(&m, settings);

  aim_at_settings(&m, state, settings);
  cw_proposal_work_mark_holes(&m, state);
  fit_in(&m, state);
  cw_search_run(&m.problem, state, false, input->progress, input->data);
  CwProposal *proposal = cw_proposal_work_deliver(&m, state);
  cw_fit_state_free(state);
  cw_proposal_work_end(&m);
  return proposal;
}
