/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/map/map_check.h"
#include "window/sound/sound_run.h"

G_BEGIN_DECLS

/* The proving run: a short quiet sweep through every output in turn, heard at one place beside the head. What
 * was heard is kept output by output; with both places heard the map is judged. */
#define CW_TYPE_MAP_RECORDER (cw_map_recorder_get_type())
G_DECLARE_FINAL_TYPE(CwMapRecorder, cw_map_recorder, CW, MAP_RECORDER, CwSoundRun)

/* Records the channel map's checks over the desk. The caller's reference. */
CwMapRecorder *cw_map_recorder_new(CwSession *session, CwSoundDesk *desk);

/* Listens to every output at a place. Nothing while it runs. */
void cw_map_recorder_start(CwMapRecorder *recorder, CwProvingPlace place);

/* Whether every output was heard, or found silent, at a place. */
gboolean cw_map_was_heard(CwRecord *vehicle, CwProvingPlace place);

G_END_DECLS
