/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/hold.h"
#include <math.h>

static void hold_pass(CwFitState *state, size_t o, size_t which, const CwCrossoverSetting *held)
{
  CwCrossoverSetting *pass = which == 0 ? &state->setting[o].high_pass : &state->setting[o].low_pass;

  *pass = *held;
  state->corner_least_hz[2 * o + which] = state->corner_most_hz[2 * o + which] = held->corner_hz;
}

static void hold_output(const CwProposalHold *hold, CwFitState *state, size_t o)
{
  CwOutputSetting *s = &state->setting[o];

  state->held[o] = hold->held;
  state->fixed[o] = hold->fixed;
  s->sections = hold->fixed;
  for (size_t k = 0; k < hold->fixed; k++)
    s->section[k] = hold->setting.section[k];
  if (hold->held & CW_FIT_POLARITY)
    s->inverted = hold->setting.inverted;
  if (hold->held & (CW_FIT_CORNER | CW_FIT_HIGH_PASS))
    hold_pass(state, o, 0, &hold->setting.high_pass);
  if (hold->held & (CW_FIT_CORNER | CW_FIT_LOW_PASS))
    hold_pass(state, o, 1, &hold->setting.low_pass);
}

/* Held gains stand where they stand; the others come as much up or down as the held ones, on average. */
static void hold_gains(const CwProposalHold *hold, CwFitState *state)
{
  double shift = 0;
  size_t count = 0;

  for (size_t o = 0; o < state->outputs; o++)
    if (hold[o].held & CW_FIT_GAIN) {
      shift += hold[o].setting.gain_db - state->setting[o].gain_db;
      count++;
    }
  for (size_t o = 0; o < state->outputs; o++) {
    bool held = hold[o].held & CW_FIT_GAIN;
    state->setting[o].gain_db =
        held ? hold[o].setting.gain_db : state->setting[o].gain_db + (count ? shift / (double)count : 0);
    state->gain_least_db[o] = fmin(state->gain_least_db[o], state->setting[o].gain_db);
    state->gain_most_db[o] = fmax(state->gain_most_db[o], state->setting[o].gain_db);
  }
}

/* An open crossover follows the one that is held across from it: a pair shares, and so do the two sides of
 * one corner as far as they stood on the same frequency. */
static void follow_mates(const CwProposalWork *m, CwFitState *state)
{
  const CwProposalHold *hold = m->input->hold;

  for (size_t o = 0; o < state->outputs; o++) {
    int mate = m->input->car->output[o].mate;
    if (mate < 0)
      continue;
    if (!(hold[o].held & (CW_FIT_CORNER | CW_FIT_HIGH_PASS)) &&
        (hold[mate].held & (CW_FIT_CORNER | CW_FIT_HIGH_PASS)))
      hold_pass(state, o, 0, &hold[mate].setting.high_pass);
    if (!(hold[o].held & (CW_FIT_CORNER | CW_FIT_LOW_PASS)) &&
        (hold[mate].held & (CW_FIT_CORNER | CW_FIT_LOW_PASS)))
      hold_pass(state, o, 1, &hold[mate].setting.low_pass);
  }
}

void cw_hold_apply(const CwProposalWork *m, CwFitState *state)
{
  const CwProposalHold *hold = m->input->hold;
  double common;

  if (!hold)
    return;
  for (size_t o = 0; o < state->outputs; o++)
    hold_output(&hold[o], state, o);
  follow_mates(m, state);
  hold_gains(hold, state);
  if (cw_proposal_work_common_arrival(m, &common))
    for (size_t o = 0; o < state->outputs; o++)
      if (hold[o].held & CW_FIT_DELAY)
        state->setting[o].delay_seconds =
            hold[o].setting.delay_seconds + m->input->car->output[o].arrival_seconds - common;
}
