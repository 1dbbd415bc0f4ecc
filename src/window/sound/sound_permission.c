/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/sound_permission.h"

#include "window/widgets/questions.h"

void cw_sound_permission_clear(CwSoundPermission *consent)
{
  if (consent->what && consent->free_what)
    consent->free_what(consent->what);
  consent->what = NULL;
}

static void on_yes(gpointer data)
{
  CwSoundPermission *consent = data;
  consent->given = TRUE;
  consent->given_about = consent->about;
  consent->go(consent->data, g_steal_pointer(&consent->what));
}

void cw_sound_permission_ask(CwSoundPermission *consent, gint64 about, gpointer what,
                             const CwSoundPermissionWords *words)
{
  if (cw_sound_desk_is_practice(consent->desk) || (consent->given && consent->given_about == about)) {
    consent->go(consent->data, what);
    return;
  }
  cw_sound_permission_clear(consent); /* what an earlier question was about, and got no yes */
  consent->what = what;
  consent->about = about;
  cw_ask_consent(consent->page, words->question, words->detail, words->yes, on_yes, consent);
}
