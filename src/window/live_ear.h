/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "signal/live_spectrum.h"
#include "signal/sound_meter.h"
#include "window/session.h"
#include "window/sound_desk.h"

G_BEGIN_DECLS

/* What an input hears now, as a running spectrum and as a level. Of all ears at a desk one listens at a time;
 * Stop ends that. Signals: "heard", there are newer levels; "changed", it began or ended. */
#define CW_TYPE_LIVE_EAR (cw_live_ear_get_type())
G_DECLARE_FINAL_TYPE(CwLiveEar, cw_live_ear, CW, LIVE_EAR, GObject)

/* What is listened to and how; may be changed while it listens. */
typedef struct {
  CwBallistics ballistics;
  int fraction;               /* of an octave, 1 to 24 */
  CwMeterWeighting weighting; /* of the bands */
  guint input;                /* of the device, from 0; the first is the microphone */
} CwHearing;

#define CW_LIVE_INPUTS_MOST 8u

CwLiveEar *cw_live_ear_new(CwSession *session, CwSoundDesk *desk, CwBallistics ballistics);
void cw_live_ear_start(CwLiveEar *ear);
void cw_live_ear_stop(CwLiveEar *ear);
gboolean cw_live_ear_is_listening(CwLiveEar *ear);
CwHearing cw_live_ear_get_hearing(CwLiveEar *ear);
void cw_live_ear_set_hearing(CwLiveEar *ear, const CwHearing *hearing);
/* How many inputs of the desk's device can be chosen. */
guint cw_live_ear_count_inputs(CwLiveEar *ear);
void cw_live_ear_forget_highest(CwLiveEar *ear);
/* Begins an average anew. */
void cw_live_ear_begin_anew(CwLiveEar *ear);
/* Since when an average is taken, seconds; 0 while it does not listen. */
double cw_live_ear_get_seconds(CwLiveEar *ear);

/* While it listens: the bands' centres, their levels and the highest since the reset, dB. The arrays, which
 * may be NULL, are the caller's to free; returns how many there are. Levels are dB SPL where the microphone's
 * level is known, else below full scale; NAN until a band is known. */
guint cw_live_ear_read(CwLiveEar *ear, double **hz, double **level_db, double **peak_db);
/* The level of everything now, fast or slow; NAN while it does not listen. */
double cw_live_ear_read_level(CwLiveEar *ear, CwMeterWeighting weighting);
gboolean cw_live_ear_is_calibrated(CwLiveEar *ear);
/* In how many seconds the lowest band will be known; 0 when it is. And how late it follows. */
double cw_live_ear_get_wait(CwLiveEar *ear);
double cw_live_ear_get_lag(CwLiveEar *ear);

G_END_DECLS
