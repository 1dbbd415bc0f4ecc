/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/leads/lead_response.h"

/* Where a lead begins to clip on a tone that rises evenly. */
typedef struct {
  bool readable;     /* the tone stands above the noise */
  double clip_dbfs;  /* track level (peak of the sine, dB re full scale) of 1 % total harmonic distortion; NAN
                        if it is not reached */
  double limit_dbfs; /* track level from which the tone grows by less than the track does while it is still
                        clean: a limiter; NAN for none */
  double top_level;  /* the tone's amplitude at the end, parts of the recorder's full scale */
} CwToneClip;

/* Reads tone number which in channel c; delay_seconds is the lead's own, after the recording's start_frame.
 * Total harmonic distortion is the root of all harmonics' power within the track over the fundamental's (IEC
 * 60268-3), noise taken off. */
CwToneClip cw_clip_read(const CwRecordedTake *heard, size_t which, size_t c, double delay_seconds);
