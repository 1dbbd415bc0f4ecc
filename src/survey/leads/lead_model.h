/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/crossover.h"
#include "survey/leads/lead_response.h"

/* A lead as a chain of first- and second-order parts in the bilinear transform's own frequency W = tan(pi f /
 * rate), with a gain, a polarity and a delay. Any cascade of digital high-passes, low-passes, peaking filters
 * and shelves is such a chain, whatever its family; all of its parts but the all-pass are of minimum phase,
 * so that the magnitude leaves nothing of the phase open but what the all-passes, the delay and the polarity
 * bring. */
typedef enum {
  CW_PART_HIGH_PASS_FIRST, /* W0 */
  CW_PART_LOW_PASS_FIRST,  /* W0 */
  CW_PART_HIGH_PASS,       /* W0, Q */
  CW_PART_LOW_PASS,        /* W0, Q */
  CW_PART_SHAPE,           /* W0, Q of a pair of zeros, W0, Q of a pair of poles: peaking filter or shelf */
  CW_PART_ALL_PASS,        /* W0, Q */
} CwPartKind;

#define CW_MODEL_MOST_PARTS 24
#define CW_MODEL_MOST_VARS (2 + 4 * CW_MODEL_MOST_PARTS)

/* Variables are logarithms. Number 0 is the gain, number 1 the delay in units of 10 us; then those of the
 * parts in order. */
typedef struct {
  double rate_hz;       /* of the radio's processing */
  double shape_most_hz; /* no shape lies higher: beyond the band one would pass for a delay */
  double polarity;      /* +1 or -1 */
  size_t parts, vars;
  CwPartKind part[CW_MODEL_MOST_PARTS];
  size_t first[CW_MODEL_MOST_PARTS]; /* of each part's variables */
  double var[CW_MODEL_MOST_VARS], least[CW_MODEL_MOST_VARS], most[CW_MODEL_MOST_VARS];
  size_t leader[CW_MODEL_MOST_PARTS]; /* the part by whose frequency a part's is held; itself for none */
  double ratio[CW_MODEL_MOST_PARTS];  /* of W0 to the leader's */
  double held_q[CW_MODEL_MOST_PARTS]; /* NAN where it is free */
} CwLeadModel;

#define CW_MODEL_DELAY_SECONDS 10e-6

/* What the model is held against: count points, their weights (1 / standard deviation of the relative error;
 * 0 leaves a point out). */
typedef struct {
  size_t count;
  const double *hz;
  const CwComplex *value;
  const double *weight;
} CwModelTarget;

/* A model without parts: the track's rate in Hz, a gain as a factor. */
CwLeadModel cw_lead_model_new(double rate_hz, double gain);

/* Adds a part at hz with q; nothing where the model has as many as it can. */
void cw_lead_model_add(CwLeadModel *model, CwPartKind kind, double hz, double q);

/* The sections of a filter of a family, all held together: its corner is all that is free. False where there
 * is no such filter. */
bool cw_lead_model_add_filter(CwLeadModel *model, CwFilterFamily family, CwPass pass, int order, double hz);

/* A peak or dip of gain_db. */
void cw_lead_model_add_shape(CwLeadModel *model, double hz, double gain_db, double q);

/* Frequency of a part, Hz; part counts from 0. */
double cw_lead_model_part_hz(const CwLeadModel *model, size_t part);

/* Q of a part, without unit. */
double cw_lead_model_part_q(const CwLeadModel *model, size_t part);

/* The model's delay, seconds. */
double cw_lead_model_delay_seconds(const CwLeadModel *model);

/* The model's response at count frequencies; without_delay leaves delay and polarity out. */
void cw_lead_model_response(const CwLeadModel *model, const double *hz, size_t count, bool without_delay,
                            CwComplex *response);

/* Fits all variables by damped least squares within their bounds (Levenberg 1944, Marquardt 1963) to the
 * target's log magnitude, or to magnitude and phase, which then must be within half a turn already. Returns
 * the cost: half the sum of the squared, weighted errors of all rows. */
double cw_lead_model_fit(CwLeadModel *model, const CwModelTarget *target, bool with_phase, int rounds);

/* The standard deviation, seconds, that the target's weights leave to a fitted model's delay with all other
 * variables free beside it: the bound of Cramer (1946) and Rao (1945), by the inverse of the normal
 * equations' matrix. It holds for the model as it is; that another might be right is not in it. INFINITY
 * where nothing holds the delay. */
double cw_lead_model_delay_deviation(const CwLeadModel *model, const CwModelTarget *target);

/* Log of target over model: errors of log magnitude (nepers) and phase (radians); either may be NULL. */
void cw_lead_model_errors(const CwLeadModel *model, const CwModelTarget *target, double *magnitude,
                          double *phase);
