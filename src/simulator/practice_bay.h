/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The practice bay: a simulated vehicle in which every stage can be tried without one. What the microphone
 * hears is computed while it plays, from the car's description; nothing is replayed.
 *
 * Its device outputs are the processor's outputs 1 to n (device channels 0 to n-1), each played through its
 * settings alone, and behind them the processor's left and right inputs (channels n and n+1), which every
 * output mixes as the loaded table says. Its device inputs are the microphone (0) and a cable (1) that
 * carries the sum of all that is played.
 */
#pragma once

#include "simulator/practice_setup.h"

typedef struct CwPracticeBay CwPracticeBay;

/* A bay of the setup, which it takes over. Never NULL. */
CwPracticeBay *cw_practice_bay_new(CwPracticeSetup *setup);
void cw_practice_bay_free(CwPracticeBay *bay);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwPracticeBay, cw_practice_bay_free)

/* The setup that the bay was made with; borrowed. */
const CwPracticeSetup *cw_practice_bay_get_setup(const CwPracticeBay *bay);

/* As cw_practice_setup_get_outputs(). */
guint cw_practice_bay_get_outputs(const CwPracticeBay *bay);

/* What is to be recorded, faster than it would sound. */
typedef struct {
  const float *feed; /* frames times channels, interleaved, full scale 1 */
  gsize frames;
  guint channels;
  const guint *route;  /* for each channel: the device output, from 0 */
  gsize record_frames; /* 0: as many as the feed has */
  double rate_hz;      /* with a table loaded, the table's */
  guint seat, position;
  guint64 seed;
  double clock_ppm; /* the recorder's clock minus the player's, -500 to 500 */
  gboolean quiet;   /* no noise: for looking at the car itself */
} CwPracticeRequest;

/* Records: record_frames times CW_PRACTICE_INPUTS, interleaved, the caller's (g_free). NULL with
 * CW_PRACTICE_ERROR when seat, position, route or rate are not possible. The same request always gives
 * the same samples. */
float *cw_practice_bay_record(const CwPracticeBay *bay, const CwPracticeRequest *request, GError **error);

/* The intake sheet of the bay's car as JSON text, the caller's: what a technician would have written down, so
 * without the defects. */
char *cw_practice_bay_intake(const CwPracticeBay *bay);
