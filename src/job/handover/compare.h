/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "handover/compare.h"
#include "job/job_error.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* What one output does differently in the car; NAN for what cannot be told. */
typedef struct {
  gint64 output;
  char *name;
  guint positions;         /* at which both states have accepted takes */
  guint refused;           /* positions at which the later take heard no sound where the earlier did */
  double level_db;         /* of the whole band, what all outputs have in common taken off */
  double band_hz, band_db; /* the octave that moved most against the others, and by how much */
  double arrival_ms;       /* later is positive; what all have in common taken off */
  gboolean swapped;        /* surely of the other polarity than before */
  double rattle_hz;        /* a rattle that was not there before; NAN for none */
} CwOutputChange;

typedef struct {
  char *since;        /* the restore point's name */
  GPtrArray *changes; /* CwChange of sheet and settings */
  guint n_outputs;
  CwOutputChange *outputs;     /* those measured again since */
  double common_db, common_ms; /* what all outputs have in common: the microphone's gain and place, rather
                                  than the car; 0 for fewer than three */
} CwComparison;

/* What changed since a restore point: the sheet's and the tune's values, and what the car does differently in
 * takes made since. NULL with CW_PROJECT_ERROR_MISSING if there is no such point. */
CwComparison *cw_job_compare(CwProject *project, const char *since, GError **error);
void cw_comparison_free(CwComparison *comparison);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwComparison, cw_comparison_free)

/* Puts the findings "changed-since" of a comparison into the vehicle, in place of those of an earlier one;
 * the caller commits. */
void cw_comparison_find(const CwComparison *comparison, CwRecord *vehicle);

G_END_DECLS
