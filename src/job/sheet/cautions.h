/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* What has to be said at a stage before hands or ears are at risk; NULL-terminated, possibly empty, static
 * and not yet translated. */
const char *const *cw_job_cautions(CwRouteStage stage);

G_END_DECLS
