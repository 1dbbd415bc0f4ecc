/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "signal/filters/crossover.h"
#include "vehicle/kinds/kind_fields.h"
#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* The kinds of record. What each holds is said by its table; from the tables come their types, the
 * identifiers of their fields and the functions that get and set them, in kind_fields.h. kinds_sheet.c    the
 * vehicle as it came in; the intake sheet is a part of it kinds_survey.c   the factory radio kinds_measure.c
 * map, levels, takes, proof kinds_tune.c     settings and what was noticed */

/* Words that more than one table uses. */
extern const CwChoice cw_polarities[]; /* normal, inverted */
extern const CwChoice cw_sides[];      /* left, right, both */
extern const CwChoice cw_stages[];     /* the nine of the route, in order */

/* The order of the words above, and of others that the code asks for by index. */
enum { CW_POLARITY_NORMAL, CW_POLARITY_INVERTED };
enum { CW_INCIDENCE_0, CW_INCIDENCE_90 };
enum { CW_SIDE_LEFT, CW_SIDE_RIGHT, CW_SIDE_BOTH };
enum { CW_WAY_HIGH, CW_WAY_MID, CW_WAY_LOW, CW_WAY_FULL, CW_WAY_SUB };
enum {
  CW_STAGE_SHEET,
  CW_STAGE_SUPPLY,
  CW_STAGE_SIGNAL,
  CW_STAGE_MAP,
  CW_STAGE_LEVELS,
  CW_STAGE_MEASURING,
  CW_STAGE_TUNING,
  CW_STAGE_PROOF,
  CW_STAGE_HANDOVER,
  CW_N_STAGES
};
enum { CW_STAGE_UNTOUCHED, CW_STAGE_BEGUN, CW_STAGE_TO_SETTLE, CW_STAGE_DONE };
enum { CW_SEVERITY_STOP, CW_SEVERITY_ATTEND, CW_SEVERITY_NOTE };
enum { CW_SOUNDED_UNTRIED, CW_SOUNDED_HEARD, CW_SOUNDED_SILENT };
enum { CW_TIMING_LOOPBACK, CW_TIMING_MARKER, CW_TIMING_NONE };
enum { CW_USE_CROSSOVER, CW_USE_CORRECTION, CW_USE_VOICING };
/* A tune section's kind is a CwSectionKind, its family a CwFilterFamily. */

/* The speaker on an output, borrowed; NULL if there is none. */
CwRecord *cw_vehicle_find_speaker(CwRecord *vehicle, gint64 output);

/* The record of a stage, made if there is none yet; borrowed. */
CwRecord *cw_vehicle_find_stage(CwRecord *vehicle, int stage);

/* Adds a finding; the caller fills in what it is about, its text, evidence and advice. Borrowed. */
CwRecord *cw_vehicle_add_finding(CwRecord *vehicle, const char *code, int severity, int stage);

/* Takes the findings of a stage away, before the stage finds anew. */
void cw_vehicle_clear_findings(CwRecord *vehicle, int stage);

G_END_DECLS
