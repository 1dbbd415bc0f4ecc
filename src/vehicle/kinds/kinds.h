/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "signal/filters/crossover.h"
#include "vehicle/kinds/kind_fields.h"
#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* The kinds of record. What each holds is said by its table: of the vehicle as it came in and its sheet in
 * kinds_sheet.c, of the factory radio in kinds_survey.c, of map, levels, takes and proof in kinds_measure.c,
 * of settings and findings in kinds_tune.c. From the tables come their types, the identifiers of their fields
 * and the functions that get and set them (kind_fields.h), and the enumerations of choices (kind_words.h). */

/* Words that more than one table uses. */
extern const CwChoice cw_polarities[]; /* normal, inverted */
extern const CwChoice cw_sides[];      /* left, right, both */
extern const CwChoice cw_stages[];     /* the nine of the route, in order */

/* The speaker on an output, borrowed; NULL if there is none. */
CwRecord *cw_vehicle_find_speaker(CwRecord *vehicle, gint64 output);

/* The record of a stage, made if there is none yet; borrowed. */
CwRecord *cw_vehicle_find_stage(CwRecord *vehicle, CwRouteStage stage);

/* Adds a finding; the caller fills in what it is about, its text, evidence and advice. Borrowed. */
CwRecord *cw_vehicle_add_finding(CwRecord *vehicle, const char *code, CwSeverity severity,
                                 CwRouteStage stage);

/* Takes the findings of a stage away, before the stage finds anew. */
void cw_vehicle_clear_findings(CwRecord *vehicle, CwRouteStage stage);

G_END_DECLS
