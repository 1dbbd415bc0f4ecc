/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/job_error.h"

G_BEGIN_DECLS

#define CW_DOCUMENT_MOST_BYTES (64u * 1024 * 1024)

/* Reads a plain file of at most most_bytes whole. What is no plain file (a folder, a device, a pipe, which
 * could keep the program waiting or never end) or longer is refused unread. Returns its bytes with a NUL
 * after them, the caller's, and their number; NULL with error, which names the file (CW_JOB_ERROR_FILE). */
char *cw_job_read_file(const char *path, gsize most_bytes, gsize *length, GError **error);

/* Whether a path is of a plain file that can be read; else the error that cw_job_read_file() would give. */
gboolean cw_input_is_plain(const char *path, GError **error);

G_END_DECLS
