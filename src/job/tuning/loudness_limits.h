/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/headroom/headroom.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* How loud the vehicle plays at a seat (NULL for all) with its tune, until the first thing gives out: what
 * the sheet, the gains and the takes know sets limits, what is not known sets none. FALSE with error where
 * takes are missing or there is no tune. */
gboolean cw_job_headroom(CwProject *project, const char *seat, CwHeadroom *headroom, GError **error);

/* What gives out first of an output when music plays as loud as the source can: from its settings with
 * voicing, what the sheet says of its speaker and channel, the gains and its takes. room_db is INFINITY where
 * nothing is known or there is no tune for it. */
CwMusicRoom cw_job_music_room(CwRecord *vehicle, CwRecord *speaker);

/* {"bands":[{"hz","spl_db","headroom_db","limit":{"output","by"}}],"spl_db"}; output 0 where the source's own
 * loudest is the limit. The caller's. */
char *cw_job_headroom_to_json(CwRecord *vehicle, const CwHeadroom *headroom);

/* The same as lines for people: frequency, level, what gives out. The caller's. */
char *cw_job_say_headroom(CwRecord *vehicle, const CwHeadroom *headroom);

/* Whether an amplifier's channel feeds the speaker on an output, by the sheet. */
gboolean cw_job_channel_drives(CwRecord *vehicle, const char *amplifier, gint64 channel, gint64 output);

/* V RMS that an amplifier's channel was read to give for a full-scale sine, when its gain was set; NAN where
 * it was not read. */
double cw_job_read_full_scale_v(CwRecord *vehicle, const char *amplifier, gint64 channel);

/* What gives out, in a few words; static, translated. */
const char *cw_job_say_limit(CwLimitKind kind);

G_END_DECLS
