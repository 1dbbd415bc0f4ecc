/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* What the correction of the tune's inputs makes of a survey's leads, as it was worked out or as hands have
 * changed it since: curves in dB re 1 V RMS of a full-scale sine, 1/12 octave. */

/* The tune's input that a lead feeds (CwInputCorrection), borrowed; NULL where the mix leaves the lead out.
 */
CwRecord *cw_job_find_corrected_input(CwRecord *vehicle, gint64 lead);

/* The lead's response with the gain and the sections of its input. NULL where the mix leaves the lead out. */
CwNumbers *cw_job_corrected_lead(CwRecord *vehicle, CwRecord *lead);

/* What a side (CW_SIDE_LEFT or CW_SIDE_RIGHT) comes to: all its leads with gain, polarity, delay and
 * sections, added with their phases. NULL where nothing feeds it. */
CwNumbers *cw_job_corrected_side(CwRecord *vehicle, int side);

/* The largest deviation of either side from its level over the range that the survey made flat, 1/6 octave;
 * NAN where there is no correction. */
double cw_job_corrected_flatness_db(CwRecord *vehicle);

G_END_DECLS
