/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/mix/correction.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* The leads of a survey's record (CwSurvey) as numbers, in its order. A lead is usable if it was not left
 * out, carries something, and its delay and phase are known. Free with g_free(). */
CwMixLead *cw_job_mix_leads(CwRecord *survey, gsize *leads);

/* Works out a survey's sums and correction anew from its leads: after a survey, and after a lead was left out
 * or edited. Takes some tens of milliseconds. */
void cw_job_mix_survey(CwRecord *survey, CwRecord *processor);

/* Copies the survey's correction to the inputs of the vehicle's tune, where the table takes them from. */
void cw_job_apply_correction(CwRecord *vehicle);

/* Works the correction of the input that a lead feeds out anew and puts it into the tune, with its place in
 * the mix; what hands changed in the others stays. FALSE where the mix does not use the lead. The caller
 * commits. */
gboolean cw_job_redo_lead(CwRecord *vehicle, gint64 lead);

/* Whether hands have changed an input of the tune (CwInputCorrection) since it was worked out. */
gboolean cw_job_input_is_by_hand(CwRecord *vehicle, CwRecord *input);

/* What became of changes by hand when a lead was left out or taken in. */
typedef struct {
  guint kept;      /* inputs whose changes stand in the new mix */
  guint set_aside; /* inputs of leads that the new mix does without: until it uses them again */
  guint restored;  /* inputs that got the filters and the gain that were set aside before */
} CwHandOutcome;

/* Leaves a lead out of the mix, or takes it in again; sums, correction, inputs and findings follow: all
 * inputs are worked out anew, as the leads that remain have other parts to play. What hands changed in an
 * input stays, value by value. FALSE where the survey has no such lead; outcome may be NULL. The caller
 * commits. */
gboolean cw_job_skip_lead(CwRecord *vehicle, gint64 lead, gboolean skipped, CwHandOutcome *outcome);

G_END_DECLS
