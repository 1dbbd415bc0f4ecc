/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/job_error.h"

G_BEGIN_DECLS

/* Writes a file whole or not at all, and onto the disk before it returns; length -1 for text. Only a plain
 * file is replaced: a rename onto a device or a link to one would take it away. Errors are of G_FILE_ERROR or
 * CW_JOB_ERROR and name the file. */
gboolean cw_job_write_file(const char *path, const char *data, gssize length, GError **error);

G_END_DECLS
