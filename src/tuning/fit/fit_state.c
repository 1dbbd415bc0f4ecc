/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit.h"
#include <string.h>

#define GAIN_MOST_DB 40.0
#define GAIN_LEAST_DB (-60.0)

CwFitState *cw_fit_state_new(size_t outputs)
{
  CwFitState *state = cw_alloc_bytes(sizeof *state);

  state->outputs = outputs;
  state->setting = cw_alloc_bytes(outputs * sizeof *state->setting);
  state->corner_least_hz = cw_alloc_real(2 * outputs);
  state->corner_most_hz = cw_alloc_real(2 * outputs);
  state->delay_most_seconds = cw_alloc_real(outputs);
  state->gain_least_db = cw_alloc_real(outputs);
  state->gain_most_db = cw_alloc_real(outputs);
  state->held = cw_alloc_bytes(outputs * sizeof *state->held);
  state->fixed = cw_alloc_bytes(outputs * sizeof *state->fixed);
  for (size_t o = 0; o < outputs; o++)
    state->gain_most_db[o] = GAIN_MOST_DB;
  for (size_t o = 0; o < outputs; o++)
    state->gain_least_db[o] = GAIN_LEAST_DB;
  return state;
}

CwFitState *cw_fit_state_copy(const CwFitState *state)
{
  CwFitState *copy = cw_fit_state_new(state->outputs);

  cw_fit_state_assign(copy, state);
  return copy;
}

void cw_fit_state_assign(CwFitState *state, const CwFitState *from)
{
  memcpy(state->setting, from->setting, from->outputs * sizeof *state->setting);
  memcpy(state->corner_least_hz, from->corner_least_hz, 2 * from->outputs * sizeof(double));
  memcpy(state->corner_most_hz, from->corner_most_hz, 2 * from->outputs * sizeof(double));
  memcpy(state->gain_least_db, from->gain_least_db, from->outputs * sizeof(double));
  memcpy(state->gain_most_db, from->gain_most_db, from->outputs * sizeof(double));
  memcpy(state->held, from->held, from->outputs * sizeof *state->held);
  memcpy(state->fixed, from->fixed, from->outputs * sizeof *state->fixed);
  memcpy(state->delay_most_seconds, from->delay_most_seconds, from->outputs * sizeof(double));
}

void cw_fit_state_free(CwFitState *state)
{
  if (!state)
    return;
  cw_free(state->setting);
  cw_free(state->corner_least_hz);
  cw_free(state->corner_most_hz);
  cw_free(state->gain_least_db);
  cw_free(state->gain_most_db);
  cw_free(state->delay_most_seconds);
  cw_free(state->held);
  cw_free(state->fixed);
  cw_free(state);
}
