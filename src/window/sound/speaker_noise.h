/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_desk.h"
#include "window/state/session.h"

G_BEGIN_DECLS

/* Short noises to tell speakers by, in their own band and no deeper than they bear. */
void cw_speaker_noise_play(CwSession *session, CwSoundDesk *desk, gint64 output);

/* A tone that glides round a frequency at which an output makes something rattle, until Stop: hands press on
 * panels meanwhile. */
void cw_speaker_noise_search(CwSession *session, CwSoundDesk *desk, gint64 output, double hz);

G_END_DECLS
