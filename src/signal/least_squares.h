/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/normal_equations.h"

/* Damped least squares (Levenberg 1944, Marquardt 1963): the one search that all fits of the house run.
 * Bounds, and how a step moves the variables, are the caller's, in propose() and in the held variables of the
 * equations. */
typedef struct {
  size_t variables;
  int rounds;           /* most linearisations */
  int attempts;         /* most steps tried from one of them */
  double damping;       /* at the beginning, a part of the diagonal */
  double damping_least; /* it does not fall below */
  double ease,
      raise; /* above 1: damping is divided by ease after a step that helped, else multiplied by raise */
  double least_gain; /* part of the cost that a round must save for another one to follow */
  void *data;
  /* Fills the equations at the current point, all of them (they come cleared), and returns the cost there. */
  double (*linearise)(void *data, CwNormalEquations *equations);
  /* Moves a copy of the current point by step, within its bounds, and returns the cost of what comes out. */
  double (*propose)(void *data, const double *step);
  /* What was proposed last becomes the current point. */
  void (*accept)(void *data);
  bool (*cancelled)(void *data); /* may be NULL */
} CwLeastSquares;

/* Runs the search from the current point and returns the cost of the point at which it ends. */
double cw_least_squares_run(const CwLeastSquares *search);
