/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/leads/lead_model.h"

/* What one lead's response says of the radio's processing. */
typedef struct {
  bool known;           /* false where noise leaves too little to go by: nothing else is valid then */
  bool sure;            /* delay and polarity are certain */
  double delay_seconds; /* after the recording's start_frame */
  double delay_deviation_seconds; /* standard deviation that noise and the fit's own error leave to it */
  double polarity;                /* +1 or -1 */
  bool all_pass;
  double all_pass_hz, all_pass_q;
  double magnitude_error,
      phase_error; /* root mean square of what the model leaves, nepers and radians, weighted as fitted */
  CwLeadModel model;
} CwLeadFit;

/* Fits a model to a lead: the magnitude first, with as many parts as it takes to leave no more than the
 * noise; then delay and polarity from what phase is left, then all together, once without and once with an
 * all-pass section, which is believed only if the phase cannot be explained without one. rate_hz is that of
 * the radio's processing, which is the track's. */
CwLeadFit cw_lead_fit(const CwLeadResponse *response, double rate_hz);
