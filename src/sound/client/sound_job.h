/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What makes a sound job possible, and how many channels it needs. Used by the client before anything is
 * sent. */
#pragma once

#include "sound/client/client.h"

/* FALSE with CW_SOUND_ERROR_REQUEST, naming the field, when the job cannot be done as asked. */
gboolean cw_sound_job_check(const CwSoundJob *job, GError **error);

/* How many of the device's outputs the job needs open. */
guint32 cw_sound_job_outputs(const CwSoundJob *job);

/* A copy with its own device name; the feed is borrowed. */
void cw_sound_job_copy(CwSoundJob *to, const CwSoundJob *from);
void cw_sound_job_clear(CwSoundJob *job);
