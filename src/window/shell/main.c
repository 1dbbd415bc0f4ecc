/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/shell/application.h"

#include <glib/gi18n-lib.h>
#include <locale.h>

int main(int argc, char **argv)
{
  setlocale(LC_ALL, "");
  bindtextdomain(GETTEXT_PACKAGE, CW_LOCALE_DIR);
  bind_textdomain_codeset(GETTEXT_PACKAGE, "UTF-8");
  textdomain(GETTEXT_PACKAGE);
  g_set_application_name("Cabinwright");
  g_autoptr(CwApplication) application = cw_application_new();
  return g_application_run(G_APPLICATION(application), argc, argv);
}
