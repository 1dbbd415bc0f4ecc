/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/job_error.h"

G_BEGIN_DECLS

/* What a file that is written may take the place of. Never, whatever is asked: a vehicle file, a folder, a
 * device, a pipe, or a link to one of these. */
typedef enum {
  CW_REPLACE_OWN, /* an empty file, or one of the same kind that this program wrote */
  CW_REPLACE_ANY, /* any other plain file too: the person was asked */
} CwReplace;

/* Whether a file that begins with head (length bytes) may be written to path; path may not exist. Errors are
 * CW_JOB_ERROR_FILE, or CW_JOB_ERROR_FOREIGN where CW_REPLACE_ANY would do; they name the file and what
 * stands there. */
gboolean cw_output_allowed(const char *path, const char *head, gsize length, CwReplace replace,
                           GError **error);

/* Where a file of that path is written: the path itself, or where it leads to as a link. The caller frees it.
 */
char *cw_output_place(const char *path);

/* A file to be written to, without a name as yet where the file system knows that, in the folder of path (of
 * cw_output_place()); -1 with errno set. */
int cw_output_open(const char *path);

/* Closes it and leaves no trace of it. */
void cw_output_abandon(int descriptor, const char *path);

/* Brings it onto the disk and gives it the name of path, at once and in the place of what was there; closes
 * it in any case. Nothing stays behind where it fails or the program ends in between. FALSE with errno set.
 */
gboolean cw_output_finish(int descriptor, const char *path);

/* Writes a file whole or not at all, and onto the disk before it returns; length -1 for text. Errors are of
 * G_FILE_ERROR or CW_JOB_ERROR and name the file. */
gboolean cw_job_write_file(const char *path, const char *data, gssize length, CwReplace replace,
                           GError **error);

G_END_DECLS
