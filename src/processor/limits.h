/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/crossover.h"
#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* What a processor can do to an output, or to an input. Steps of 0 stand for any value. */
typedef struct {
  double rate_hz;
  size_t sections; /* corrections; at most CW_SETTING_MOST_SECTIONS */
  double section_gain_least_db, section_gain_most_db;
  double q_least, q_most;
  double gain_least_db, gain_most_db;
  bool no_delay; /* it cannot be delayed at all */
  double delay_most_seconds, delay_step_seconds;
  double frequency_least_hz, frequency_most_hz; /* 0 for no bound */
  double frequency_steps_per_octave;            /* counted from 1 kHz, as ISO 266 does */
  double gain_step_db, q_step;
  int crossover_order_most;        /* 0 where it has none */
  bool family[CW_FILTER_FAMILIES]; /* of its crossovers */
  bool shelves, all_pass;          /* as sections */
} CwLimits;

/* A processor that can do everything: ten sections an output, -15 to +6 dB, Q 0.4 to 10. */
CwLimits cw_limits_wide(double rate_hz);

/* What a processor's record (CwProcessor; NULL for one of which nothing is known) allows an output, and an
 * input. */
CwLimits cw_limits_of_output(CwRecord *processor);
CwLimits cw_limits_of_input(CwRecord *processor);

/* The same for values set by hand on the screen: where the processor has no step, the finest that is shown
 * (0.1 dB, Q 0.01). */
CwLimits cw_limits_by_hand(CwLimits limits);

/* The nearest multiple of step, as the double that is nearest to it in decimals where 1 / step is whole: 13.6
 * and not 13.600000000000001. Any value where step is 0 or less. */
double cw_limits_on_step(double value, double step);

/* The nearest value that the processor can be set to, moved by a whole number of its steps, always on its
 * steps and within its range where one of them is. */
double cw_limits_frequency_hz(const CwLimits *limits, double hz, int steps);
double cw_limits_section_gain_db(const CwLimits *limits, double gain_db, int steps);
double cw_limits_q(const CwLimits *limits, double q, int steps);
double cw_limits_gain_db(const CwLimits *limits, double gain_db);
double cw_limits_delay_seconds(const CwLimits *limits, double seconds);
double cw_limits_delay_samples(const CwLimits *limits, double samples); /* at the limits' rate */

/* The frequency on the processor's steps at or above hz: for what protects a speaker. */
double cw_limits_frequency_above_hz(const CwLimits *limits, double hz);

/* A frequency set by hand: on the processor's steps, else to 0.1 Hz below 100 Hz and to 1 Hz above. */
double cw_limits_frequency_by_hand_hz(const CwLimits *limits, double hz);

/* Family and order nearest to a Linkwitz-Riley crossover of the order wanted; order 0 where it has no
 * crossovers. */
void cw_limits_crossover(const CwLimits *limits, int order_wanted, CwFilterFamily *family, int *order);

G_END_DECLS
