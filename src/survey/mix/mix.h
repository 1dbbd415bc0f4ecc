/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/survey.h"

/* Which leads to add up for the left and the right side, and how. */

#define CW_MIX_MOST_PARTS 4
#define CW_MIX_MOST_ALL_PASSES 3
#define CW_MIX_LOW_HZ 40.0
#define CW_MIX_HIGH_HZ 16000.0
#define CW_MIX_REACH_DB                                                                                      \
  8.5 /* below its level where a sum still counts: a correction lifts by no more than 9 dB */

/* A lead at the points of its told response, 1/12 octave from 20 Hz. */
typedef struct {
  int lead;
  int side, end, band;               /* CW_SURVEY_UNKNOWN where not known */
  bool usable;                       /* it may be in a sum */
  double low_hz, high_hz;            /* NAN beyond the ends */
  double delay_seconds, polarity;    /* after the earliest lead; +1 or -1 */
  double all_pass_hz, all_pass_q;    /* NAN for none */
  CwComplex value[CW_SURVEY_POINTS]; /* volts for full scale, polarity and all-pass in it, delay not; 0 where
                                        it is not known */
} CwMixLead;

/* What is done to a lead on its way into the sum. */
typedef struct {
  size_t index;   /* among the leads given */
  double gain_db; /* at most 0 */
  bool inverted;
  double later_seconds; /* than the other parts on arrival, where they add up better so */
  double delay_seconds; /* which brings that about */
} CwMixPart;

/* When the leads of a sum are to arrive. */
typedef enum {
  CW_MIX_TOGETHER, /* all as the latest */
  CW_MIX_SHIFTED,  /* as far from that as makes leads add up where they meet: crossovers do not all turn the
                      phase of both sides alike */
  CW_MIX_AS_THEY_COME, /* nothing can be delayed */
} CwMixArrival;

typedef struct {
  size_t parts; /* 0 where nothing on that side can be used */
  CwMixPart part[CW_MIX_MOST_PARTS];
  double level_db;        /* of the sum over its range, before correction */
  double low_hz, high_hz; /* the stretch between 40 Hz and 16 kHz over which it has signal */
  double octaves;         /* of that stretch */
  double uneven_db;       /* root mean square over it */
} CwSideMix;

typedef struct {
  CwSideMix side[2]; /* CW_SIDE_LEFT, CW_SIDE_RIGHT */
  CwMixArrival arrival;
  size_t all_passes; /* of the leads used, all different: a lead gets those that are not its own, so that all
                        turn alike */
  double all_pass_hz[CW_MIX_MOST_ALL_PASSES], all_pass_q[CW_MIX_MOST_ALL_PASSES];
} CwMixChoice;

/* Frequency of a point of a told response, Hz: 20 Hz times 2^(point / 12). */
double cw_mix_hz(size_t point);

/* Chooses for each side the leads whose sum covers most with fewest, and how to add them: delays by the
 * arrival that is wanted, polarity and level by which the sum is most even. turn_all_passes: all-pass
 * sections can be had. */
CwMixChoice cw_mix_choose(const CwMixLead *lead, size_t leads, bool turn_all_passes, CwMixArrival arrival);

/* Does all-pass number which of the choice belong to the lead itself? */
bool cw_mix_is_own_all_pass(const CwMixChoice *choice, size_t which, const CwMixLead *lead);

/* A lead's contribution to a sum at all points, with the part's gain, polarity and delay and the all-passes
 * that it is given. */
void cw_mix_contribution(const CwMixChoice *choice, const CwMixLead *lead, const CwMixPart *part,
                         CwComplex *value);

/* Sum of a side at all points, without correction. */
void cw_mix_sum(const CwMixChoice *choice, const CwMixLead *lead, int side, CwComplex *sum);

/* Leads as the radio gives them, added as they come: dB at each point, and what is lost against adding in
 * phase on the mean over the octaves where two or more of them matter (within 12 dB of each other); 0 where
 * they meet in less than half an octave. meet_octaves, if not NULL, is told how far they overlap. */
double cw_mix_raw_sum(const CwMixLead *lead, const size_t *index, size_t count, double *db,
                      double *meet_octaves);
