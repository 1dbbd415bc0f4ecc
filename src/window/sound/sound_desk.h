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

/* A desk that begins in the practice bay: nothing real sounds before it is chosen. */
CwSoundDesk *cw_sound_desk_new(CwSoundClient *client);
CwSoundClient *cw_sound_desk_get_client(CwSoundDesk *desk);

/* The name of the device; borrowed. */
const char *cw_sound_desk_get_device(CwSoundDesk *desk);

/* What is known of the device, borrowed until the next refresh; NULL before the first or when it is gone. */
const CwSoundDevice *cw_sound_desk_find_device(CwSoundDesk *desk);

/* Another device begins quiet. */
void cw_sound_desk_set_device(CwSoundDesk *desk, const char *device);
gboolean cw_sound_desk_is_practice(CwSoundDesk *desk);

/* The peak of what is played to measure. */
double cw_sound_desk_get_level_dbfs(CwSoundDesk *desk);

/* Brought to between -60 dBFS and the limit. */
void cw_sound_desk_set_level_dbfs(CwSoundDesk *desk, double level_dbfs);

/* What plays, in words; NULL when nothing does. */
const char *cw_sound_desk_get_playing(CwSoundDesk *desk);
void cw_sound_desk_set_playing(CwSoundDesk *desk, const char *words);
/* Whoever listens to the microphone all the time (borrowed), NULL for nobody. */
gpointer cw_sound_desk_get_ear(CwSoundDesk *desk);
void cw_sound_desk_set_ear(CwSoundDesk *desk, gpointer ear);
void cw_sound_desk_stop(CwSoundDesk *desk);

G_END_DECLS
