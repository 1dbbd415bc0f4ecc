/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/job_error.h"

/* clang-format off */
G_DEFINE_QUARK(cw-job-error-quark, cw_job_error)
/* clang-format on */

gboolean cw_job_refuse(GError **error, CwJobError code, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  g_set_error_literal(error, CW_JOB_ERROR, code, what);
  return FALSE;
}
