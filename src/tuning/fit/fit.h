/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "processor/limits.h"
#include "processor/output_setting.h"
#include "tuning/car/band_matrix.h"

/* The joint fit: every output's sections, gain, crossover corners and delay in one bounded least-squares
 * problem over the summed left, right and both responses at every seat, the match of left and right, and the
 * energy lost where speakers overlap. */

/* How much a decibel of each kind of deviation matters: the residuals are divided by these. */
typedef struct {
  double side_db, both_db, match_db, loss_db;
} CwFitTolerance;

/* Kinds of variables, as bits. */
typedef enum {
  CW_FIT_GAIN = 1,
  CW_FIT_SECTION_HZ = 2,
  CW_FIT_SECTION_GAIN = 4,
  CW_FIT_SECTION_Q = 8,
  CW_FIT_CORNER = 16,
  CW_FIT_DELAY = 32,
  CW_FIT_HIGH_PASS = 64, /* of an output: corner, slope and family of this one stay */
  CW_FIT_LOW_PASS = 128,
  CW_FIT_POLARITY = 256,
  CW_FIT_SECTIONS = 512, /* of an output: no section joins those that are fixed */
  CW_FIT_ALL = 1023,
} CwFitKind;

/* Two sections of an output stand at least so far apart. */
#define CW_FIT_APART_OCTAVES 0.4

typedef struct {
  const CwCar *car;
  const CwBandMatrices *bands; /* 24 an octave over the fitted range */
  const double *over_target; /* sums x bands: 1 over the power that the target asks of left, right and both */
  const double *seat_weight; /* of every seat; they sum to 1 */
  const bool *no_boost;      /* outputs x bands: true where a lift would fill a hole; NULL for nowhere */
  const double
      *no_lift_below_hz; /* an output: what protects a speaker is not to be lifted; NULL for nowhere */
  const bool
      *left_out; /* sums x bands: true where the sum is not judged, as a hole is there; NULL for nowhere */
  CwLimits limits;
  const double *tangent; /* bands: tan(pi hz / rate); NULL to have it computed each time */
  CwFitTolerance tolerance;
  const double *boost_most_db; /* outputs x bands: most that all of an output's sections together may lift;
                                  NULL for the limits' own */
  bool firm; /* bounds on the sum of an output's filters are nearly walls; else the search may pass through
                them */
  double cut_q_most;             /* of sections that cut; 0 for the limits' own */
  double lift_q_most;            /* of sections that lift; 0 for the limits' own */
  unsigned held;                 /* kinds that stay as they are */
  bool (*cancelled)(void *data); /* may be NULL */
  void *cancel_data;
} CwFitProblem;

/* The state that is fitted. Output o's setting stands in setting[o]; its delay there is against perfectly
 * equal arrivals at the seat, and the two of a left/right pair share it. */
typedef struct {
  size_t outputs;
  CwOutputSetting *setting;
  double *corner_least_hz; /* 2 an output: lowest corner of high-pass and low-pass */
  double *corner_most_hz;
  double *gain_least_db;      /* an output: one of several basses is not to be silenced for the others */
  double *gain_most_db;       /* an output: fill stays below what it fills */
  double *delay_most_seconds; /* an output: how far its delay may move from equal arrival, either way */
  unsigned *held;             /* an output: kinds (CwFitKind) that stay as they are */
  size_t *fixed;              /* an output: its first sections, which stay as they are */
} CwFitState;

/* A state of outputs without sections, nothing held, gains free. Free with cw_fit_state_free(). */
CwFitState *cw_fit_state_new(size_t outputs);

/* A copy of its own. */
CwFitState *cw_fit_state_copy(const CwFitState *state);

/* Makes state the same as from, which has as many outputs. */
void cw_fit_state_assign(CwFitState *state, const CwFitState *from);

/* Frees it; NULL is let pass. */
void cw_fit_state_free(CwFitState *state);

/* What is left over, decibels, averaged over the seats by their weights: root mean square from the target of
 * the sides and of both, of left against right, and the mean loss. */
typedef struct {
  double cost; /* what the fit minimises */
  double side_db, both_db, match_db, loss_db;
} CwFitResult;

/* What is left over at the state; nothing moves. */
CwFitResult cw_fit_evaluate(const CwFitProblem *problem, const CwFitState *state);

/* How much the cost would rise, were a section taken out and all else fitted again, as the quadratic model of
 * the fit has it (Hassibi and Stork, NIPS 5, 1993). rise: outputs x CW_SETTING_MOST_SECTIONS, INFINITY for
 * all-pass sections, of which it says nothing. False where the model does not hold. */
bool cw_fit_worth(const CwFitProblem *problem, const CwFitState *state, double *rise);

/* At most rounds steps of a bounded Levenberg-Marquardt iteration (Marquardt, SIAM J. 11, 1963; bounds by
 * projection) from the state; the state becomes the best found. Stops when a step gains less than part gain
 * of the cost, or when cancelled. */
CwFitResult cw_fit_run(const CwFitProblem *problem, CwFitState *state, int rounds, double gain);

/* Whether a sum is not judged at all: nothing but the bass plays in it. */
bool cw_fit_leaves_out(const CwFitProblem *problem, CwSum sum);

/* The narrowest that a section of gain_db may be. */
double cw_fit_q_most(const CwFitProblem *problem, double gain_db);

/* The frequencies between which an output's sections may stand: its crossovers and a little beyond. */
void cw_fit_span(const CwFitProblem *problem, const CwOutputSetting *setting, double *low_hz,
                 double *high_hz);

/* Where section k of output o may stand: inside the band that its output plays in, and apart from its
 * neighbours, so that none stands on another or fights it. One that already stands elsewhere stays where it
 * is until it moves inwards. */
void cw_fit_room(const CwFitProblem *problem, const CwFitState *state, size_t o, size_t k, double *low,
                 double *high);

/* Whether a lift at hz is refused for the output. */
bool cw_fit_refuses_boost(const CwFitProblem *problem, size_t output, double hz);
