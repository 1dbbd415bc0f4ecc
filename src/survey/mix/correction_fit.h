/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/mix/correction.h"

/* A bounded fit of sections to a level in decibels over the points of a told response. */
typedef struct {
  const double *db; /* CW_SURVEY_POINTS: what is to be made flat; several curves stand one after the other */
  size_t curves;
  size_t first, last;     /* points that are to be flat, inclusive */
  double low_hz, high_hz; /* between which sections may lie */
  const CwLimits *limits;
  size_t most; /* sections */
} CwFlatProblem;

/* Adds sections to what is there, one at a time, until nothing worth it is left; on the processor's grid at
 * the end. chain_db, if not NULL, is told what they do at all points. Returns the worst deviation over the
 * points, 1/6 octave, dB. */
double cw_flat_fit(const CwFlatProblem *problem, CwSection *section, size_t *sections);

/* Decibels of a section at a point. */
double cw_flat_section_db(const CwSection *section, double rate_hz, double hz);

/* The largest departure from the mean of the values, each the mean of 1/6 octave. level and
 * where, if not NULL, are told that mean and the point. */
double cw_flat_worst_db(const double *db, size_t first, size_t last, double *level, size_t *where);
