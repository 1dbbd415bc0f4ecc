/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/headroom/headroom.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* How loud the vehicle plays at a seat (NULL for all) with its tune, until the first thing gives out: what
 * the sheet, the gains and the takes know sets limits, what is not known sets none. FALSE with error where
 * takes are missing or there is no tune. */
gboolean cw_job_headroom(CwProject *project, const char *seat, CwHeadroom *headroom, GError **error);

/* {"bands":[{"hz","spl_db","headroom_db","limit":{"output","by"}}],"spl_db"}; output 0 where the source's own
 * loudest is the limit. The caller's. */
char *cw_job_headroom_to_json(CwRecord *vehicle, const CwHeadroom *headroom);

/* The same as lines for people: frequency, level, what gives out. The caller's. */
char *cw_job_say_headroom(CwRecord *vehicle, const CwHeadroom *headroom);

/* What gives out, in a few words; static, translated. */
const char *cw_job_say_limit(CwLimitKind kind);

G_END_DECLS
