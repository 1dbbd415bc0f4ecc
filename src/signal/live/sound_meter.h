/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/weighting_filter.h"

/* A sound level meter for a running stream: flat, A and C at once. One thread; nothing is allocated. */
typedef enum { CW_METER_FLAT, CW_METER_A, CW_METER_C, CW_METER_WEIGHTINGS } CwMeterWeighting;

typedef struct {
  double rate_hz;
  size_t sections[CW_METER_WEIGHTINGS];
  CwCoefficients cascade[CW_METER_WEIGHTINGS][CW_WEIGHTING_MOST_SECTIONS];
  double state[CW_METER_WEIGHTINGS][2 * CW_WEIGHTING_MOST_SECTIONS];
  double held[CW_METER_WEIGHTINGS]; /* mean square with time weighting */
  double sum[CW_METER_WEIGHTINGS];  /* of squares since the last cw_sound_meter_take() */
  double seconds;                   /* since then */
  double constant_seconds;
} CwSoundMeter;

/* constant_seconds: 0.125 for fast, 1 for slow (IEC 61672-1). Below 44 kHz, at which the weightings cannot be
 * met, A and C are NAN. */
void cw_sound_meter_init(CwSoundMeter *meter, double rate_hz, double constant_seconds);

/* Takes count samples, stride apart, full scale 1. */
void cw_sound_meter_run(CwSoundMeter *meter, const float *samples, size_t stride, size_t count);

/* The level now, with time weighting, dB re a mean square of 1. */
double cw_sound_meter_level_db(const CwSoundMeter *meter, CwMeterWeighting weighting);

/* The mean level over the time since it was last taken, which begins anew. NAN where nothing came. */
double cw_sound_meter_take(CwSoundMeter *meter, CwMeterWeighting weighting, double *seconds);
