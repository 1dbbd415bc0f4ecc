/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/band_matrix.h"
#include "tuning/setting.h"

/* The joint fit: every output's sections, gain, crossover corners and delay in one bounded least-squares problem over the summed
 * left, right and both responses, the match of left and right, and the energy lost where speakers overlap. */

/* What the processor allows. */
typedef struct {
  double rate_hz;
  size_t sections;                       /* corrections an output; at most CW_SETTING_MOST_SECTIONS */
  double section_gain_least_db, section_gain_most_db;
  double q_least, q_most;
} CwFitLimits;

/* How much a decibel of each kind of deviation matters: the residuals are divided by these. */
typedef struct {
  double side_db, both_db, match_db, loss_db;
} CwFitTolerance;

typedef struct {
  const CwCar *car;
  const CwBandMatrices *bands; /* 24 an octave over the fitted range */
  const double *target_db;     /* at the bands' centres */
  CwFitLimits limits;
  CwFitTolerance tolerance;
  bool (*cancelled)(void *data);
  void *cancel_data;
} CwFitProblem;

/* The state that is fitted. Output o's setting stands in setting[o]; its delay there is against perfectly equal arrivals at the seat,
 * and the two of a left/right pair share it. */
typedef struct {
  size_t outputs;
  CwOutputSetting *setting;
  double *corner_least_hz; /* 2 an output: lowest corner of high-pass and low-pass */
  double *corner_most_hz;
  double *delay_most_seconds; /* an output: how far its delay may move from equal arrival, either way */
  double level_db[2];     /* of the sides, and of both together, over the target */
} CwFitState;

CwFitState *cw_fit_state_new(size_t outputs);
CwFitState *cw_fit_state_copy(const CwFitState *state);
void cw_fit_state_free(CwFitState *state);

/* What is left over, decibels: root mean square from the target of the sides and of both, of left against right, and the mean loss. */
typedef struct {
  double cost; /* what the fit minimises */
  double side_db, both_db, match_db, loss_db;
} CwFitResult;

/* Evaluates a state without changing it, but for its levels, which are set to the best. */
CwFitResult cw_fit_evaluate(const CwFitProblem *problem, CwFitState *state);

/* At most rounds steps of a bounded Levenberg-Marquardt iteration (Marquardt, SIAM J. 11, 1963; bounds by projection) from the state; the
 * state becomes the best found. Stops when a step gains less than part gain of the cost. */
CwFitResult cw_fit_run(const CwFitProblem *problem, CwFitState *state, int rounds, double gain);
