/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "signal/live/live_spectrum.h"
#include "signal/live/sound_meter.h"
#include "window/sound/sound_desk.h"
#include "window/state/session.h"

G_BEGIN_DECLS

/* What an input hears now, as a running spectrum and as a level. Of all ears at a desk one listens at a time;
 * Stop ends that. Signals: "heard", there are newer levels; "changed", it began or ended. */
#define CW_TYPE_LIVE_MICROPHONE (cw_live_microphone_get_type())
G_DECLARE_FINAL_TYPE(CwLiveMicrophone, cw_live_microphone, CW, LIVE_MICROPHONE, GObject)

/* What is listened to and how; may be changed while it listens. */
typedef struct {
  CwBallistics ballistics;
  int fraction;               /* of an octave, 1 to 24 */
  CwMeterWeighting weighting; /* of the bands */
  guint input;                /* of the device, from 0; the first is the microphone */
} CwHearing;

#define CW_LIVE_INPUTS_MOST 8u

/* Listens to the desk's input while it is asked to; ballistics are those of its levels. The caller's
 * reference. */
CwLiveMicrophone *cw_live_microphone_new(CwSession *session, CwSoundDesk *desk, CwBallistics ballistics);

/* Another ear at the desk ends. */
void cw_live_microphone_start(CwLiveMicrophone *ear);
void cw_live_microphone_stop(CwLiveMicrophone *ear);
gboolean cw_live_microphone_is_listening(CwLiveMicrophone *ear);
CwHearing cw_live_microphone_get_hearing(CwLiveMicrophone *ear);
void cw_live_microphone_set_hearing(CwLiveMicrophone *ear, const CwHearing *hearing);
/* How many inputs of the desk's device can be chosen. */
guint cw_live_microphone_count_inputs(CwLiveMicrophone *ear);
void cw_live_microphone_forget_highest(CwLiveMicrophone *ear);
/* Begins an average anew. */
void cw_live_microphone_begin_anew(CwLiveMicrophone *ear);
/* Since when an average is taken, seconds; 0 while it does not listen. */
double cw_live_microphone_get_seconds(CwLiveMicrophone *ear);

/* While it listens: the bands' centres, their levels and the highest since the reset, dB. The arrays, which
 * may be NULL, are the caller's to free; returns how many there are. Levels are dB SPL where the microphone's
 * level is known, else below full scale; NAN until a band is known. */
guint cw_live_microphone_read(CwLiveMicrophone *ear, double **hz, double **level_db, double **peak_db);
/* The level of everything now, fast or slow; NAN while it does not listen. */
double cw_live_microphone_read_level(CwLiveMicrophone *ear, CwMeterWeighting weighting);
gboolean cw_live_microphone_is_calibrated(CwLiveMicrophone *ear);
/* In how many seconds the lowest band will be known; 0 when it is. And how late it follows. */
double cw_live_microphone_get_wait(CwLiveMicrophone *ear);
double cw_live_microphone_get_lag(CwLiveMicrophone *ear);

G_END_DECLS
