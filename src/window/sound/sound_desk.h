/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "sound/client/client.h"

G_BEGIN_DECLS

/* Which device sounds, how loud, and what plays now. One for the whole program, as the device is.
 * Signals: "changed", any of it; "stop-asked", whoever records or plays is to end. */
#define CW_TYPE_SOUND_DESK (cw_sound_desk_get_type())
G_DECLARE_FINAL_TYPE(CwSoundDesk, cw_sound_desk, CW, SOUND_DESK, GObject)

/* No sample leaves above this, whatever is asked for. */
#define CW_DESK_LIMIT_DBFS (-6.0)

CwSoundDesk *cw_sound_desk_new(CwSoundClient *client);
CwSoundClient *cw_sound_desk_get_client(CwSoundDesk *desk);

const char *cw_sound_desk_get_device(CwSoundDesk *desk);
const CwSoundDevice *cw_sound_desk_find_device(CwSoundDesk *desk);
void cw_sound_desk_set_device(CwSoundDesk *desk, const char *device);
gboolean cw_sound_desk_is_practice(CwSoundDesk *desk);
double cw_sound_desk_get_level_dbfs(CwSoundDesk *desk);
void cw_sound_desk_set_level_dbfs(CwSoundDesk *desk, double level_dbfs);

const char *cw_sound_desk_get_playing(CwSoundDesk *desk);
void cw_sound_desk_set_playing(CwSoundDesk *desk, const char *words);
/* Whoever listens to the microphone all the time (borrowed), NULL for nobody. */
gpointer cw_sound_desk_get_ear(CwSoundDesk *desk);
void cw_sound_desk_set_ear(CwSoundDesk *desk, gpointer ear);
void cw_sound_desk_stop(CwSoundDesk *desk);

G_END_DECLS
