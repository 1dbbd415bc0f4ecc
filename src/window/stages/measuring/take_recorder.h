/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_run.h"

G_BEGIN_DECLS

/* Records takes one after the other, each stored as one edit. */
#define CW_TYPE_RECORDER (cw_recorder_get_type())
G_DECLARE_FINAL_TYPE(CwRecorder, cw_recorder, CW, RECORDER, CwSoundRun)

/* Records takes over the desk. The caller's reference. */
CwRecorder *cw_recorder_new(CwSession *session, CwSoundDesk *desk);

/* Begins with the takes wanted (outputs at positions), which it takes over; timing as in
 * cw_job_analyse_take(). Does nothing while it runs. Ends at the first that is refused, stopped or fails. */
void cw_recorder_start(CwRecorder *recorder, GPtrArray *wanted, CwTakeTiming timing, CwRecordingWay way);

/* The level and the number of sweeps that the next take of an output would have, and why; the caller's. NULL
 * where there is no such output. */
char *cw_recorder_say_feed(CwRecorder *recorder, gint64 output, CwTakeTiming timing);

G_END_DECLS
