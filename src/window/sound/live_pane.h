/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_desk.h"
#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The microphone's spectrum as it is now, for quick looks and for moving the microphone. */
GtkWidget *cw_live_pane_new(CwSession *session, CwSoundDesk *desk);

G_END_DECLS
