/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/job_error.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

GBytes *cw_job_make_report(CwProject *project, GError **error);
gboolean cw_job_write_report(CwProject *project, const char *path, GError **error);

G_END_DECLS
