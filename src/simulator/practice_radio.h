/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The practice bay's factory radios. Each plays a track from its own clock through processing that nobody is
 * told of: filters, delays, polarity, a seat setting, a bass lift that follows the volume, a rail at which it
 * clips. What an interface records from its speaker leads is computed from the description alone.
 */
#pragma once

#include "signal/filters/section.h"

#include <glib.h>

#define CW_PRACTICE_LEADS_MOST 8u
#define CW_PRACTICE_VOLTS_PER_FULL_SCALE 25.0 /* of the interface clipped onto the leads */

typedef struct {
  double left, right; /* how much of each channel of the track it plays */
  int end;            /* -1 front, +1 rear, 0 not moved by the fader */
  double gain_db;
  gboolean inverted;
  double delay_ms, seat_delay_ms; /* always, and besides with the seat setting */
  double noise_v;
  guint sections;
  CwSection section[8];
} CwPracticeLead;

typedef struct {
  const char *car;
  double full_scale_v; /* peak of a full-scale sine at the highest volume step */
  double rail_v, knee; /* where it clips; the part of the rail over which it does so softly */
  double step_db;      /* a volume step */
  int survey_step, quiet_step, loud_step; /* volumes for the survey's takes; the last is the highest */
  double lift_hz, lift_most_db, lift_step_db;
  int lift_below_step; /* the bass is lifted by lift_step_db a step below it */
  double player_ppm;
  double hum_v, hum_hz;
  guint leads;
  CwPracticeLead lead[CW_PRACTICE_LEADS_MOST];
} CwPracticeRadio;

/* What is played, and what is turned. */
typedef struct {
  const double *track[2]; /* left and right, full scale 1 */
  gsize track_frames;
  double track_rate_hz;
  int volume_step;
  double balance, fader; /* -1 left or front, to 1 right or rear */
  gboolean seat_set;     /* the seat setting is on the driver */
  double start_seconds;  /* the track begins so long after the recording */
  guint64 seed;          /* of the noise */
} CwPracticeRadioPlay;

/* The radio of a built-in car ("alder-tourer", "rowan-van"), static; NULL for an unknown one. */
const CwPracticeRadio *cw_practice_radio_of(const char *car);

/* What the interface records of one lead (from 1) at rate_hz: `frames` samples, full scale 1. The same
 * request always gives the same samples. */
void cw_practice_radio_record(const CwPracticeRadio *radio, const CwPracticeRadioPlay *play, guint lead,
                              double rate_hz, gsize frames, double *out);
