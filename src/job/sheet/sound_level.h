/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "electrics/exposure.h"
#include "job/recording.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

#define CW_SOUND_LEVEL_BANDS 31 /* third octaves from 20 Hz to 20 kHz */

/* How loud a recording is, by the vehicle's microphone: its noise floor if nothing played. All in dB SPL; NAN
 * where the recorder's rate is too low for the band or the weighting. */
typedef struct {
  gboolean calibrated; /* FALSE: the microphone's level is not on the sheet, and all may be off by the same
                          amount */
  double seconds;
  double flat_db, a_db, c_db; /* mean level over the recording */
  double a_fast_most_db;      /* highest with time weighting fast (IEC 61672-1) */
  double hz[CW_SOUND_LEVEL_BANDS], band_db[CW_SOUND_LEVEL_BANDS];
  double niosh_hours, osha_hours; /* how long a day one may stay in it */
} CwSoundLevel;

/* Measures channel 1 of the recording, the microphone's curve taken off. */
CwSoundLevel cw_job_sound_level(CwRecord *vehicle, const CwRecording *recording);

/* The same as JSON, for the console program; the caller's. */
char *cw_sound_level_to_json(const CwSoundLevel *level);

/* What of the day's allowance an exposure has used and how long the level may still be heard, by both rules,
 * in words; the caller's. */
char *cw_job_say_exposure(const CwExposure *exposure, double level_dba);

G_END_DECLS
