/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/job_error.h"

G_BEGIN_DECLS

gboolean cw_job_write_file(const char *path, const char *data, gssize length, GError **error);

G_END_DECLS
