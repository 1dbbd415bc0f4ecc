/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/length.h"

#include "window/state/settings.h"

#include <glib/gi18n-lib.h>
#include <langinfo.h>

#define KEY "inches"
#define US_MEASURES 2 /* of LC_MEASUREMENT (ISO/IEC TR 14652) */

static gboolean locale_measures_in_inches(void)
{
  return *nl_langinfo(_NL_MEASUREMENT_MEASUREMENT) == US_MEASURES;
}

gboolean cw_length_in_inches(void)
{
  return cw_settings_get_boolean(KEY, locale_measures_in_inches());
}

void cw_length_choose_first(void)
{
  GSettings *settings = cw_settings_get();
  g_autoptr(GVariant) chosen = settings ? g_settings_get_user_value(settings, KEY) : NULL;
  if (settings && !chosen && locale_measures_in_inches())
    g_settings_set_boolean(settings, KEY, TRUE);
}

static gboolean is_length(const CwField *field)
{
  return g_strcmp0(field->unit, "cm") == 0;
}

gboolean cw_length_is_converted(const CwField *field)
{
  return is_length(field) && cw_length_in_inches();
}

const char *cw_length_unit_of(const CwField *field)
{
  return cw_length_is_converted(field) ? _("in") : field->unit;
}

char *cw_length_say(double cm)
{
  return cw_length_in_inches() ? g_strdup_printf(_("%.1f in"), cm / CW_CM_PER_INCH)
                               : g_strdup_printf(_("%.0f cm"), cm);
}
