/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/crossover.h"

/* What a processor can do to an output. Steps of 0 stand for any value. */
typedef struct {
  double rate_hz;
  size_t sections; /* corrections an output; at most CW_SETTING_MOST_SECTIONS */
  double section_gain_least_db, section_gain_most_db;
  double q_least, q_most;
  double gain_least_db, gain_most_db; /* of an output */
  double delay_most_seconds, delay_step_seconds;
  double frequency_steps_per_octave; /* counted from 1 kHz */
  double gain_step_db, q_step;
  int crossover_order_most;        /* 0 where it has none */
  bool family[CW_FILTER_FAMILIES]; /* of its crossovers */
  bool all_pass;                   /* of second order, as sections */
} CwLimits;

/* A processor that can do everything: ten sections an output, -15 to +6 dB, Q 0.4 to 10. */
CwLimits cw_limits_wide(double rate_hz);

/* The nearest value on the processor's grid, moved by steps of it, within its range. Steps are whole numbers.
 */
double cw_limits_frequency_hz(const CwLimits *limits, double hz, int steps);
double cw_limits_section_gain_db(const CwLimits *limits, double gain_db, int steps);
double cw_limits_q(const CwLimits *limits, double q, int steps);
double cw_limits_gain_db(const CwLimits *limits, double gain_db);
double cw_limits_delay_seconds(const CwLimits *limits, double seconds);

/* The frequency on the grid at or above hz: for what protects a speaker. */
double cw_limits_frequency_above_hz(const CwLimits *limits, double hz);

/* Family and order nearest to a Linkwitz-Riley crossover of the order wanted; order 0 where it has no
 * crossovers. */
void cw_limits_crossover(const CwLimits *limits, int order_wanted, CwFilterFamily *family, int *order);
