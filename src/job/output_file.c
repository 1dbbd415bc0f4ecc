/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/output_file.h"

/* Writes a file whole or not at all, and onto the disk before it returns; length -1 for text. Only a plain
 * file is replaced: a rename onto a device or a link to one would take it away. Errors are of G_FILE_ERROR or
 * CW_JOB_ERROR and name the file. */
gboolean cw_job_write_file(const char *path, const char *data, gssize length, GError **error)
{
  if (g_file_test(path, G_FILE_TEST_EXISTS) && !g_file_test(path, G_FILE_TEST_IS_REGULAR)) {
    g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_FILE, "%s: a file was expected, not a folder or device",
                path);
    return FALSE;
  }
  if (g_file_set_contents_full(path, data, length,
                               G_FILE_SET_CONTENTS_CONSISTENT | G_FILE_SET_CONTENTS_DURABLE, 0666, error))
    return TRUE;
  g_prefix_error(error, "%s: ", path);
  return FALSE;
}
