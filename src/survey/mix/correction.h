/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "processor/limits.h"
#include "survey/mix/mix.h"

/* Sections that make a mix flat. */

#define CW_CORRECT_MOST_SECTIONS 24
#define CW_CORRECT_MOST_BOOST_DB 9.0
#define CW_CORRECT_ENOUGH_DB 0.8 /* worst deviation, 1/6 octave, below which no section more is worth it */

/* One processor input, which one lead feeds. */
typedef struct {
  size_t index;  /* the lead, among those given */
  bool feeds[2]; /* left, right */
  double gain_db, delay_samples;
  bool inverted;
  size_t sections;
  CwSection section[CW_CORRECT_MOST_SECTIONS];
} CwCorrectedInput;

typedef struct {
  CwMixChoice mix;
  size_t inputs;
  CwCorrectedInput input[2 * CW_MIX_MOST_PARTS];
  double low_hz, high_hz; /* over which both sides are made flat */
  double flat_db;  /* largest deviation of either side from its level there, 1/6 octave; NAN where there is no
                      side */
  double worst_hz; /* where that is */
  double level_db; /* of either side after correction, re 1 V for full scale */
  double most_boost_db;  /* of any input's sections together */
  double wanted_seconds; /* the longest delay by which the leads would arrive as wanted, where that is longer
                            than the processor has; 0 where it is not */
} CwCorrectionPlan;

/* Chooses the mix and fits its correction. Deterministic. */
void cw_correct_leads(const CwMixLead *lead, size_t leads, const CwLimits *limits,
                      CwCorrectionPlan *correction);

/* What a side comes to with the correction, at all points. */
void cw_correct_sum(const CwMixLead *lead, const CwCorrectionPlan *correction, const CwLimits *limits,
                    int side, CwComplex *sum);
