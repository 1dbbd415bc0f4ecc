/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/mix/mix.h"

/* What comes of joining leads as the radio gives them. */

#define CW_SUMS_MOST 32

typedef enum {
  CW_SUM_ADDS,     /* little is lost */
  CW_SUM_COMB,     /* delays between the leads cut holes */
  CW_SUM_VANISHES, /* opposite polarity takes most of it away */
  CW_SUM_UNEVEN,   /* something is lost that neither delay nor polarity explains */
  CW_SUM_ALONE,    /* a single lead */
} CwSumVerdict;

typedef struct {
  size_t count, index[CW_MIX_MOST_PARTS]; /* among the leads given */
  int side;                               /* CW_SIDE_LEFT, RIGHT or BOTH */
  bool advised;                           /* it is what the mix for that side takes */
  CwSumVerdict verdict;
  double low_hz, high_hz;       /* 6 dB below the level, NAN beyond 20 Hz or 20 kHz */
  double loss_db, meet_octaves; /* as cw_mix_raw_sum() tells them */
  double apart_seconds;         /* the largest delay between two of its leads */
  double db[CW_SURVEY_POINTS];  /* re 1 V rms for a full-scale sine */
} CwLeadsSum;

/* Every sensible sum: the ways of one end and side, front with rear of a side, left with right of an end, a
 * side with a lead fed from both, and those of the mix. Returns how many, at most CW_SUMS_MOST. */
size_t cw_sums_list(const CwMixLead *lead, size_t leads, const CwMixChoice *mix, CwLeadsSum *sum);
