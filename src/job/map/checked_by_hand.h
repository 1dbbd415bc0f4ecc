/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* What the technician's own hands and ears settle, and only they: which speaker was heard where, and where
 * the gains stand. */

/* Keeps whether the output's speaker was heard where the sheet says. */
void cw_job_set_proven(CwRecord *vehicle, gint64 output, gboolean proven);

/* The record of that (CwMapProof), borrowed; NULL if nothing was said of the output yet. */
CwRecord *cw_job_find_map_proof(CwRecord *vehicle, gint64 output);

/* The same, made where there is none. */
CwRecord *cw_job_make_map_proof(CwRecord *vehicle, gint64 output);

/* The polarity that the output's latest accepted take shows, CW_POLARITY_NORMAL or CW_POLARITY_INVERTED; -1
 * if none does. */
int cw_job_measured_polarity(CwRecord *vehicle, gint64 output);

/* Writes the target voltage of every load into the levels; what was read stays. */
void cw_job_work_out_targets(CwRecord *vehicle);

G_END_DECLS
