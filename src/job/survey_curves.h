/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds.h"

G_BEGIN_DECLS

/* What a survey's correction comes to, as curves to look at: dB re 1 V RMS of a full-scale sine, 1/12 octave.
 */

/* The input that a lead feeds in the survey's correction (CwInputCorrection), borrowed; NULL where the mix
 * leaves the lead out. */
CwRecord *cw_job_find_corrected_input(CwRecord *survey, gint64 lead);

/* The lead's response with the gain and the sections of its input. NULL where the mix leaves the lead out. */
CwNumbers *cw_job_corrected_lead(CwRecord *survey, CwRecord *lead, double rate_hz);

/* What a side (CW_SIDE_LEFT or CW_SIDE_RIGHT) comes to: all its leads with gain, polarity, delay and
 * sections, added with their phases. NULL where nothing feeds it. */
CwNumbers *cw_job_corrected_side(CwRecord *survey, int side, double rate_hz);

G_END_DECLS
