/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "survey/recording/volts_tone.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Whether a channel (from 0) of a recording holds the tone of the volts track so that it can be read. reading
 * is filled in either case; FALSE with CW_JOB_ERROR_RECORDING that says what is wrong and what to do. */
gboolean cw_job_hear_volts_tone(const CwRecording *recording, guint channel, CwVoltsToneReading *reading,
                                GError **error);

/* From a recording of the volts track (channel from 0) and what the multimeter, set to AC volts, reads on
 * that lead while it plays: the recorder's volts at full scale, sqrt(2) times the reading over the tone's
 * amplitude, kept in the vehicle as the reading that it is (CwVoltsReading). The levels of a survey that is
 * there follow, see cw_job_scale_survey(). lead: CW_NO_INTEGER where it was not noted. reading, which may be
 * NULL, is filled in either case. FALSE with CW_JOB_ERROR_RECORDING that says what is wrong, and nothing is
 * changed. The caller commits. */
gboolean cw_job_read_volts(CwRecord *vehicle, const CwRecording *recording, guint channel, double volts,
                           gint64 lead, CwVoltsToneReading *reading, GError **error);

/* The volts at full scale of the vehicle's reading; NAN where none was made. */
double cw_job_volts_at_full_scale(CwRecord *vehicle);

/* Brings the levels of a survey (CwSurvey) to other volts at full scale of the recorder that it was made
 * with. Nothing where it does not know its own. */
void cw_job_scale_survey(CwRecord *survey, double volts_per_full_scale);

G_END_DECLS
