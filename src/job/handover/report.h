/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/output_file.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* The customer's report as bytes of a PDF. What is not there yet (a tune, takes) is left out, and said to be.
 */
GBytes *cw_job_make_report(CwProject *project, GError **error);

/* The same into a file, whole or not at all. */
gboolean cw_job_write_report(CwProject *project, const char *path, CwReplace replace, GError **error);

G_END_DECLS
