/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/proposal/first_state.h"
#include <math.h>
#include <string.h>

#define CROSSOVER_ORDER 4
#define OTHER_ORDER 8
#define CORNER_DOWN 0.75 /* how far the fit may move a corner from where it starts */
#define CORNER_UP 1.3
#define SUB_TO_LOW_HZ 70.0   /* where a subwoofer gives over, unless the mid-bass must be spared more */
#define CENTRE_MID_HZ 5000.0 /* how high a centre plays that is no tweeter and not full-range */
#define CENTRE_LOW_HZ 2500.0
#define SUB_MOST_HZ 120.0 /* above this a subwoofer is heard where it stands */
#define TWEETER_RESONANCE_PART 1.5
#define TWEETER_STEEP_PART 1.9  /* nearer to its resonance it is spared by the steeper slope */
#define PROTECTION_ROOM_DB 2.0  /* for what filters add near the corner */
#define BASS_APART_DB 0.6       /* how far each of several basses may leave the level that they share */
#define FILL_LATER_SECONDS 8e-3 /* common practice, no source */
#define FILL_LATER_PART 0.4     /* of what the processor can delay at all */
#define OFF_DB (-40.0)
#define MARGIN 1.05 /* of a corner over the lowest safe frequency */

/* The ways of one side of the stage, from the lowest up. Full-range speakers are its top where nothing but a
 * bass is there besides. */
enum { WAYS = 5 };
static const CwWay stage_order[WAYS] = {CW_WAY_SUB, CW_WAY_LOW, CW_WAY_MID, CW_WAY_HIGH, CW_WAY_FULL};

/* From where on an output is used: above its resonance, a tweeter well above it (common practice, no source).
 */
static double begin_hz(const CwCarOutput *output)
{
  double part = output->way == CW_WAY_HIGH                               ? TWEETER_RESONANCE_PART
                : output->way == CW_WAY_MID || output->way == CW_WAY_LOW ? 1
                                                                         : 0;
  return fmax(fmax(output->lowest_hz, output->clean_hz), part * output->resonance_hz);
}

/* Of the stage; what plays beside it does not count. */
static bool has_way(const CwCar *car, CwWay way)
{
  for (size_t o = 0; o < car->outputs; o++)
    if (car->output[o].way == way && !car->output[o].beside)
      return true;
  return false;
}

static bool full_is_top(const CwCar *car)
{
  return has_way(car, CW_WAY_FULL) && !has_way(car, CW_WAY_HIGH) && !has_way(car, CW_WAY_MID) &&
         !has_way(car, CW_WAY_LOW);
}

static double begin_of_way(const CwCar *car, CwWay way)
{
  double lowest = 0;
  for (size_t o = 0; o < car->outputs; o++)
    if (car->output[o].way == way && !car->output[o].beside)
      lowest = fmax(lowest, begin_hz(&car->output[o]));
  return lowest;
}

/* The corner between a way and the next one below it: as low as the upper speaker may go and plays cleanly.
 */
static double corner_to(const CwCar *car, CwWay upper)
{
  double lowest = MARGIN * begin_of_way(car, upper);
  return upper == CW_WAY_LOW || upper == CW_WAY_FULL ? fmax(lowest, SUB_TO_LOW_HZ) : lowest;
}

/* The corner starts on a frequency that the processor has, at or above least. */
static void set_corner(CwFitState *state, size_t o, CwCrossoverSetting *corner, double hz, double least,
                       double most)
{
  size_t at = 2 * o + (corner == &state->setting[o].low_pass);

  corner->corner_hz = fmax(hz, least);
  state->corner_least_hz[at] = least;
  state->corner_most_hz[at] = fmax(most, least);
}

/* The lowest corner with which a high-pass spares its speaker by itself: gentle slopes have to begin higher.
 */
static double protecting_hz(const CwFitProblem *problem, const CwCrossoverSetting *pass, double lowest_hz)
{
  CwOutputSetting alone = {.high_pass = *pass};

  alone.high_pass.corner_hz = lowest_hz;
  while (alone.high_pass.order > 0 && alone.high_pass.corner_hz < 4 * lowest_hz &&
         cw_setting_fall_db(&alone, problem->limits.rate_hz, lowest_hz) <
             CW_SETTING_LEAST_FALL_DB + PROTECTION_ROOM_DB)
    alone.high_pass.corner_hz *= exp2(1.0 / 24);
  return alone.high_pass.corner_hz;
}

/* The order of the crossover under a way. */
static int order_under(const CwFitProblem *problem, CwWay upper)
{
  const CwCar *car = problem->car;

  for (size_t o = 0; o < car->outputs; o++)
    if (upper == CW_WAY_HIGH && car->output[o].way == upper && !car->output[o].beside &&
        corner_to(car, upper) < TWEETER_STEEP_PART * car->output[o].resonance_hz)
      return OTHER_ORDER;
  return CROSSOVER_ORDER;
}

static void choose_slope(const CwFitProblem *problem, CwCrossoverSetting *pass, int order)
{
  cw_limits_crossover(&problem->limits, order, &pass->family, &pass->order);
}

/* The next way of the stage below (step -1) or above (step 1) that the car has; -1 for none. */
static int neighbour(const CwCar *car, CwWay way, int step)
{
  int ways = full_is_top(car) ? WAYS : WAYS - 1;

  for (int i = 0; i < ways; i++)
    if (stage_order[i] == way)
      for (int k = i + step; k >= 0 && k < ways; k += step)
        if (has_way(car, stage_order[k]))
          return (int)stage_order[k];
  return -1;
}

static void set_crossovers(const CwFitProblem *problem, CwFitState *state, size_t o)
{
  const CwCar *car = problem->car;
  const CwCarOutput *output = &car->output[o];
  CwOutputSetting *s = &state->setting[o];
  int below = output->beside ? -1 : neighbour(car, output->way, -1),
      above = output->beside ? -1 : neighbour(car, output->way, 1);

  choose_slope(problem, &s->high_pass, below >= 0 ? order_under(problem, output->way) : CROSSOVER_ORDER);
  if (below < 0 && problem->limits.family[CW_FILTER_BUTTERWORTH] && s->high_pass.order > 0)
    s->high_pass.family = CW_FILTER_BUTTERWORTH; /* no partner to add up with */
  double least = fmax(begin_hz(output), protecting_hz(problem, &s->high_pass, output->lowest_hz));
  if (below >= 0) {
    double hz = fmax(corner_to(car, output->way), least);
    set_corner(state, o, &s->high_pass, hz, least, CORNER_UP * hz);
  } else {
    set_corner(state, o, &s->high_pass, least, least, 1.6 * least);
  }
  if (above >= 0) {
    double hz = corner_to(car, (CwWay)above), most = CORNER_UP * hz;
    if (output->way == CW_WAY_SUB) {
      hz = fmin(hz, fmax(SUB_MOST_HZ, 1.5 * output->lowest_hz));
      most = fmax(hz, fmin(most, SUB_MOST_HZ));
    }
    choose_slope(problem, &s->low_pass, order_under(problem, (CwWay)above));
    set_corner(state, o, &s->low_pass, hz, CORNER_DOWN * hz, most);
  } else if (output->beside &&
             (output->way == CW_WAY_MID || output->way == CW_WAY_LOW || output->role == CW_ROLE_FILL)) {
    double hz = fmax(output->way == CW_WAY_LOW ? CENTRE_LOW_HZ : CENTRE_MID_HZ, 2 * begin_hz(output));
    choose_slope(problem, &s->low_pass, CROSSOVER_ORDER);
    set_corner(state, o, &s->low_pass, hz, CORNER_DOWN * hz, CORNER_UP * hz);
  }
}

/* The two of a pair share their corners: what spares one of them counts for both. */
static void share_corners(const CwCar *car, CwFitState *state, size_t o)
{
  int mate = car->output[o].mate;

  for (size_t k = 0; k < 2 && mate >= 0 && (size_t)mate < o; k++) {
    size_t here = 2 * o + k, there = 2 * (size_t)mate + k;
    CwCrossoverSetting *one = k == 0 ? &state->setting[o].high_pass : &state->setting[o].low_pass,
                       *other = k == 0 ? &state->setting[mate].high_pass : &state->setting[mate].low_pass;
    if (one->order == 0 || other->order == 0)
      continue;
    one->corner_hz = other->corner_hz = fmax(one->corner_hz, other->corner_hz);
    state->corner_least_hz[here] = state->corner_least_hz[there] =
        fmax(state->corner_least_hz[here], state->corner_least_hz[there]);
    state->corner_most_hz[here] = state->corner_most_hz[there] =
        fmax(state->corner_most_hz[here], state->corner_most_hz[there]);
  }
}

/* Mean deviation of an output from its side's target over its band and the seats, dB. */
static double level_over_target(const CwFitProblem *problem, const CwFitState *state, size_t o)
{
  const CwBandMatrices *m = problem->bands;
  const CwOutputSetting *s = &state->setting[o];
  const double *over_target =
      problem->over_target + (problem->car->output[o].side == CW_SIDE_RIGHT ? m->bands : 0);
  double low = s->high_pass.corner_hz, high = s->low_pass.order ? s->low_pass.corner_hz : 10000, sum = 0;
  size_t count = 0;

  for (size_t at = 0; at < m->seats * m->bands; at++) {
    size_t b = at % m->bands;
    double power = creal(m->cross[(at * m->outputs + o) * m->outputs + o]);
    if (m->hz[b] > low && m->hz[b] < high && power > 0) {
      sum += 10 * log10(power * over_target[b]);
      count++;
    }
  }
  return count ? sum / (double)count : 0;
}

static double delay_reach(CwWay way)
{
  switch (way) {
  case CW_WAY_SUB:
    return 10e-3;
  case CW_WAY_LOW:
    return 1.2e-3;
  case CW_WAY_MID:
  case CW_WAY_FULL:
    return 0.5e-3;
  case CW_WAY_HIGH:
  default:
    return 0;
  }
}

/* Basses that play in the same sum as the output, itself with them. */
static size_t basses_beside(const CwCar *car, size_t output)
{
  size_t most = 0;

  for (size_t side = 0; side < 2; side++) {
    size_t count = 0;
    for (size_t o = 0; o < car->outputs && car->output[output].mix[side] != 0; o++)
      count += car->output[o].way == CW_WAY_SUB && car->output[o].mix[side] != 0;
    most = count > most ? count : most;
  }
  return most;
}

/* Several basses add up in phase: each starts lower by as much, and stays near that. */
static void share_bass(const CwCar *car, CwFitState *state, size_t o)
{
  size_t basses = basses_beside(car, o);

  if (car->output[o].way != CW_WAY_SUB || basses < 2)
    return;
  state->setting[o].gain_db -= 20 * log10((double)basses);
  state->gain_least_db[o] = state->setting[o].gain_db - BASS_APART_DB;
  state->gain_most_db[o] = state->setting[o].gain_db + BASS_APART_DB;
}

/* Fill comes later than the stage, so that it is not heard as a place; what is off takes part in nothing. */
static void set_role(const CwFitProblem *problem, CwFitState *state, size_t o)
{
  CwSpeakerRole role = problem->car->output[o].role;

  if (role == CW_ROLE_FILL) {
    state->setting[o].delay_seconds =
        fmin(FILL_LATER_SECONDS, FILL_LATER_PART * problem->limits.delay_most_seconds);
    state->delay_most_seconds[o] = 0;
  } else if (role == CW_ROLE_OFF) {
    state->setting[o].gain_db = OFF_DB;
    state->held[o] = CW_FIT_ALL;
  }
}

CwFitState *cw_first_state(const CwFitProblem *problem)
{
  const CwCar *car = problem->car;
  CwFitState *state = cw_fit_state_new(car->outputs);

  for (size_t o = 0; o < car->outputs; o++) {
    CwOutputSetting *s = &state->setting[o];
    double reference = car->output[o].beside ? -6 : 0;
    set_crossovers(problem, state, o);
    share_corners(car, state, o);
    s->inverted = car->output[o].inverted;
    s->gain_db = reference - level_over_target(problem, state, o) +
                 (car->output[o].mix[0] > 0 && car->output[o].mix[1] > 0 ? 6 : 0);
    if (car->output[o].beside)
      state->gain_most_db[o] = s->gain_db; /* fill stays below what it fills */
    share_bass(car, state, o);
    state->delay_most_seconds[o] =
        fmax(delay_reach(car->output[o].way), car->output[o].arrival_doubt_seconds);
    set_role(problem, state, o);
  }
  return state;
}

/* What is held of either speaker of a group. */
static unsigned held_of_group(const CwCar *car, const CwFitState *state, size_t o)
{
  int mate = car->output[o].mate;
  return state->held[o] | (mate >= 0 ? state->held[mate] : 0);
}

static void set_one(const CwCar *car, CwFitState *state, size_t o, unsigned held, double delay_seconds,
                    bool flip)
{
  if (!(held & CW_FIT_DELAY))
    state->setting[o].delay_seconds = delay_seconds;
  if (!(held & CW_FIT_POLARITY))
    state->setting[o].inverted = car->output[o].inverted != flip;
}

/* Both of a pair, or one speaker alone. */
static void set_group(const CwCar *car, CwFitState *state, size_t o, double delay_seconds, bool flip)
{
  unsigned held = held_of_group(car, state, o);
  int mate = car->output[o].mate;

  set_one(car, state, o, held, delay_seconds, flip);
  if (mate >= 0)
    set_one(car, state, (size_t)mate, held, delay_seconds, flip);
}

static void align_group(const CwFitProblem *problem, CwFitState *state, size_t o)
{
  double reach = state->delay_most_seconds[o],
         step = fmin(reach / 8, 0.25 / fmax(state->setting[o].low_pass.corner_hz, 50) / 4);
  unsigned held = held_of_group(problem->car, state, o);
  double best = INFINITY, best_delay = 0;
  bool best_flip = false;

  if ((held & CW_FIT_DELAY) && (held & CW_FIT_POLARITY))
    return;
  for (int flip = 0; flip < (held & CW_FIT_POLARITY ? 1 : 2); flip++)
    for (double delay = held & CW_FIT_DELAY ? 0 : -reach; delay <= (held & CW_FIT_DELAY ? 0 : reach * 1.0001);
         delay += step) {
      set_group(problem->car, state, o, delay, flip);
      double cost =
          cw_fit_evaluate(problem, state).cost * (flip ? 1.02 : 1); /* as wired, where it makes no odds */
      if (cost < best) {
        best = cost;
        best_delay = delay;
        best_flip = flip;
      }
    }
  set_group(problem->car, state, o, best_delay, best_flip);
}

void cw_first_state_align(const CwFitProblem *problem, CwFitState *state)
{
  const CwCar *car = problem->car;
  static const CwWay order[] = {CW_WAY_MID, CW_WAY_LOW, CW_WAY_SUB};

  for (size_t i = 0; i < 3; i++)
    for (size_t o = 0; o < car->outputs; o++)
      if (car->output[o].way == order[i] && (car->output[o].mate < 0 || (size_t)car->output[o].mate > o) &&
          !car->output[o].beside && (has_way(car, CW_WAY_HIGH) || full_is_top(car)))
        align_group(problem, state, o);
}

/* The high-pass of the upper way or the low-pass of the lower one; NULL for outputs that have neither. */
static CwCrossoverSetting *pass_between(const CwCar *car, CwFitState *state, size_t o, CwWay upper, int lower)
{
  CwCrossoverSetting *pass = car->output[o].beside              ? NULL
                             : car->output[o].way == upper      ? &state->setting[o].high_pass
                             : (int)car->output[o].way == lower ? &state->setting[o].low_pass
                                                                : NULL;
  return pass && pass->order > 0 ? pass : NULL;
}

bool cw_first_state_other_slope(const CwFitProblem *problem, CwFitState *state, CwWay upper)
{
  const CwCar *car = problem->car;
  int lower = neighbour(car, upper, -1);
  bool any = false;

  if (lower < 0 || !has_way(car, upper) || problem->limits.crossover_order_most < OTHER_ORDER)
    return false;
  for (size_t o = 0; o < car->outputs; o++) /* partners keep to one that is held */
    if (pass_between(car, state, o, upper, lower) &&
        (state->held[o] &
         (CW_FIT_CORNER | (car->output[o].way == upper ? CW_FIT_HIGH_PASS : CW_FIT_LOW_PASS))))
      return false;
  for (size_t o = 0; o < car->outputs; o++) {
    CwCrossoverSetting *pass = pass_between(car, state, o, upper, lower);
    if (pass) {
      pass->order = CROSSOVER_ORDER + OTHER_ORDER - pass->order;
      any = true;
    }
  }
  return any;
}
