/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include <errno.h>
#include <stdio.h>

/* clang-format off */
G_DEFINE_QUARK(cw-usage-error-quark, cw_usage_error)
/* clang-format on */

static gboolean force_asked;

CwReplace cw_verb_replace(void)
{
  return force_asked ? CW_REPLACE_ANY : CW_REPLACE_OWN;
}

void cw_verb_set_force(gboolean force)
{
  force_asked = force;
}

char *cw_printable(const char *text, gboolean lines)
{
  g_autofree char *valid = g_utf8_make_valid(text, -1);
  GString *shown = g_string_new(NULL);

  for (const char *at = valid; *at; at = g_utf8_next_char(at)) {
    gunichar c = g_utf8_get_char(at);
    if (c == '\n' || c == '\r' || c == '\t')
      g_string_append_c(shown, lines ? (char)c : ' ');
    else
      g_string_append_unichar(shown, g_unichar_iscntrl(c) ? 0xfffd : c);
  }
  return g_string_free(shown, FALSE);
}

gboolean cw_print(const char *text, GError **error)
{
  g_autofree char *shown = cw_printable(text, TRUE);

  if (fputs(shown, stdout) >= 0 && fflush(stdout) == 0)
    return TRUE;
  g_set_error(error, G_FILE_ERROR, g_file_error_from_errno(errno), "standard output: %s", g_strerror(errno));
  return FALSE;
}
