/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/arrival/edges.h"

/* A verdict in words. */
typedef enum { CW_HEARD_NORMAL, CW_HEARD_INVERTED, CW_HEARD_OPEN /* cannot be told */ } CwHeardPolarity;

/* What one take shows of its speaker's polarity. */
typedef struct {
  size_t output;
  bool inverted;       /* its first sound points the other way than the feed */
  double certainty;    /* 0 to 1, that this edge is the first sound */
  const double *onset; /* CW_ONSET_POINTS around it; NULL where they belong to another edge */
} CwHeardOnset;

typedef struct {
  size_t outputs, takes;
  const int *mate;         /* of each output, the other speaker of its left/right pair; -1 for none */
  const double *most_sure; /* of each output, 0.5 to 1: no verdict is surer; less for subwoofers, whose first
                              sound rises too slowly to be told from what follows it */
  const CwHeardOnset *take;
} CwPolarityProblem;

typedef struct {
  double inverted; /* 0 to 1: how sure it is wired in reverse; 0.5 where nothing tells */
  double opposite; /* 0 to 1: how sure it is wired against its mate; NAN without a mate or without takes */
  double likeness; /* -1 to 1: of its first sound to its mate's, with the sign; NAN as above */
} CwPolarityVerdict;

/* One verdict an output over all its takes, and over both speakers of a pair, which are alike: the first half
 * wave's direction in each take, and the likeness of the pair's first half milliseconds. verdict takes
 * outputs values. Takes of one speaker share their geometry, and so what misleads in one may mislead in all:
 * their evidence is counted as that of the root of their number. */
void cw_polarity_judge(const CwPolarityProblem *problem, CwPolarityVerdict *verdict);
