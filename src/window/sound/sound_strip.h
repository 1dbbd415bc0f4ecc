/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_desk.h"
#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The strip at the bottom: device, what plays, level and its limit, what comes in, and Stop. */
GtkWidget *cw_sound_strip_new(CwSession *session, CwSoundDesk *desk);

G_END_DECLS
