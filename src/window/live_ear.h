/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "signal/live_spectrum.h"
#include "window/session.h"
#include "window/sound_desk.h"

G_BEGIN_DECLS

/* What the microphone hears now, as a running spectrum. Of all ears at a desk one listens at a time; Stop
 * ends that. Signals: "heard", there are newer levels; "changed", it began or ended. */
#define CW_TYPE_LIVE_EAR (cw_live_ear_get_type())
G_DECLARE_FINAL_TYPE(CwLiveEar, cw_live_ear, CW, LIVE_EAR, GObject)

CwLiveEar *cw_live_ear_new(CwSession *session, CwSoundDesk *desk, CwBallistics ballistics);
void cw_live_ear_start(CwLiveEar *ear);
void cw_live_ear_stop(CwLiveEar *ear);
gboolean cw_live_ear_is_listening(CwLiveEar *ear);
void cw_live_ear_reset(CwLiveEar *ear);

/* While it listens: the bands' centres, their levels and the highest since the reset, dB. The arrays, which
 * may be NULL, are the caller's to free; returns how many there are. Levels are dB SPL where the microphone's
 * level is known, else below full scale; NAN until a band is known. */
guint cw_live_ear_read(CwLiveEar *ear, double **hz, double **level_db, double **peak_db);
gboolean cw_live_ear_is_calibrated(CwLiveEar *ear);

G_END_DECLS
