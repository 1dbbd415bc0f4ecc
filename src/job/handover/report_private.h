/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "handover/paper.h"
#include "tuning/car/prediction.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

/* What the report's chapters share. */
typedef struct {
  CwRecord *vehicle, *tune; /* tune NULL while there is none */
  CwPrediction *prediction; /* NULL where the takes do not allow one */
  char *checksum;           /* of the coefficient table; NULL without a tune */
  char *restore_point;      /* the latest; NULL without one */
  gint64 made_unix;
} CwReport;

/* Draws the factory signal's pages: every lead, the sums and the correction. Nothing where there is no
 * survey. */
void cw_report_signal(CwPaper *paper, const CwReport *report);

/* The chapter on the tune: in words, as a plot, in figures. */
void cw_report_tune(CwPaper *paper, const CwReport *report);

/* The chapter on the proof: what was measured with the settings loaded, and the listening checks. */
void cw_report_proof(CwPaper *paper, const CwReport *report);
