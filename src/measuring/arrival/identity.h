/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/arrival/first_sound.h"

#define CW_IDENTITY_BANDS 31 /* third octaves from CW_IDENTITY_LOW_HZ */
#define CW_IDENTITY_LOW_HZ 20.0

/* What the sheet says of an output's speaker. */
typedef struct {
  double lowest_hz;                 /* from where on it plays */
  double top_least_hz, top_most_hz; /* between these a speaker of its way ends to play */
  int mate;                         /* index of the other speaker of its left/right pair; -1 for none */
} CwSpeakerSheet;

/* What one take of an output heard. */
typedef struct {
  size_t output;
  double sweep_low_hz;                /* where its sweep began */
  double level_db[CW_IDENTITY_BANDS]; /* NAN where noise hides it */
} CwSpeakerTake;

typedef struct {
  size_t outputs, seats, takes;
  const CwSpeakerSheet *sheet;  /* outputs */
  const double *distance_m;     /* outputs x seats; NAN for none */
  const CwHeardDistance *heard; /* outputs x seats, of the joint estimate */
  const CwSpeakerTake *take;
} CwIdentityProblem;

typedef struct {
  int exchanged_with; /* the output whose speaker this one's takes hold, and the other way round; -1 for none
                       */
  bool misplaced;     /* its takes hold another speaker than the sheet's; not set where exchanged_with is */
  int looks_like;     /* which output's speaker they hold; -1 where none fits */
  size_t takes, misfits;  /* takes, and those of them whose band is not the sheet's */
  double low_hz, high_hz; /* where its takes have nine tenths of their loudness; NAN without takes */
  double evidence;        /* natural units, that it is so */
} CwSpeakerIdentity;

/* Whether each output's takes hold the speaker that the sheet has on it. Held against each other: the band
 * that is heard and the one of the speaker's way; distance by sound and by tape; and the response of the two
 * speakers of a pair, which are alike. Every pair of outputs is tried as exchanged; it is said where that
 * explains what is heard much better than the sheet does, and well. identity takes outputs values. */
void cw_identity_judge(const CwIdentityProblem *problem, CwSpeakerIdentity *identity);
