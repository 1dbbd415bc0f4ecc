/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/job_error.h"

G_BEGIN_DECLS

/* Looks through a project file or a coefficient table, told apart by content, and changes nothing: adds a
 * line for each thing that is wrong to the array, whose strings it must free. TRUE if there was none. */
gboolean cw_job_check_file(const char *path, GPtrArray *wrong);

G_END_DECLS
