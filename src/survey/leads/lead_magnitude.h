/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/leads/lead_model.h"

/* What a model is fitted to, and the fit of a lead's magnitude. */

#define CW_LEAD_FLOOR 0.002 /* relative error of a point from all causes but noise */

/* A lead's response as it is fitted. */
typedef struct {
  double hz[CW_LEAD_POINTS], weight[CW_LEAD_POINTS], db[CW_LEAD_POINTS];
  size_t first, last; /* usable points, inclusive */
  double top_db;
  CwModelTarget target;
} CwLeadLook;

/* The stretch around the loudest point in which every point stands above noise, and its weights. look refers
 * to the response. false where noise leaves too little. */
bool cw_lead_look_at(const CwLeadResponse *response, CwLeadLook *look);

/* The mean squared weighted error of one kind of row; worst, if not NULL, is told where its smoothed course
 * is farthest from nothing. */
double cw_lead_chi(const CwLeadLook *look, const double *error, size_t *worst);

/* The model whose magnitude explains the lead's with the fewest parts: the best orders of the two skirts, the
 * slopes' own or their neighbours if those leave errors, as filters of a known family where that does, and as
 * many shapes as it takes. rate_hz is that of the radio's processing. */
void cw_lead_choose_magnitude(CwLeadModel *model, const CwLeadLook *look, double rate_hz);
