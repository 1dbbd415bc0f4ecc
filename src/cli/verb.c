/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include <errno.h>
#include <stdio.h>

/* clang-format off */
G_DEFINE_QUARK(cw-usage-error-quark, cw_usage_error)
/* clang-format on */

gboolean cw_print(const char *text, GError **error)
{
  if (fputs(text, stdout) >= 0 && fflush(stdout) == 0)
    return TRUE;
  g_set_error(error, G_FILE_ERROR, g_file_error_from_errno(errno), "standard output: %s", g_strerror(errno));
  return FALSE;
}
