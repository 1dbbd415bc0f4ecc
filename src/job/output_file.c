/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/output_file.h"

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
