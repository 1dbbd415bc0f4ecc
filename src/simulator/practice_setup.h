/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How the practice bay stands: which car, which defects, where the microphone is, what the processor is
 * loaded with. As JSON text, all members optional:
 *
 *   {"car": "alder-tourer" | "rowan-van" | {the whole description, see practice_car.h},
 *    "defects": ["front-left-low-reversed", ...],  those that are on; without it, as delivered
 *    "seat": "driver", "position": 0,              0 the head's centre, 1 to 5 around it
 *    "seed": 1,                                    of noise and rattle
 *    "table": {a coefficient table},               what the processor does; without it, nothing
 *    "radio": {"track": "/stick/1-leads.wav",      the device is an interface on the factory radio's leads,
 * and "volume_step": 20,                  the radio plays this file: what goes to the device's outputs
 *              "balance": 0, "fader": 0,           sounds nowhere then. -1 left or front, 1 right or rear
 *              "seat_setting": "all" | "driver",
 *              "leads": [1, 2]},                   one a device input; without it, all of them in order
 *    "device": {"stalls_after_s": 2,               the device goes dead so long after it was opened ...
 *               "gap_after_s": 1}}                 ... or loses sound once
 */
#pragma once

#include "simulator/practice_car.h"
#include "simulator/practice_radio.h"

/* What the processor does for one output. */
typedef struct {
  gboolean inverted;
  double gain_db;
  double left, right; /* of the processor's two inputs in this output */
  guint delay_samples;
  guint sections;
  CwCoefficients *section;
} CwPracticeSettings;

/* The factory radio as it is set, if the interface hangs on it. */
typedef struct {
  const CwPracticeRadio *radio; /* NULL: the device is microphone and cable */
  char *track;                  /* path of the file that it plays */
  int volume_step;
  double balance, fader;
  gboolean seat_set;
  guint leads, lead[CW_PRACTICE_LEADS_MOST]; /* from 1 */
} CwPracticeRadioSetup;

typedef struct {
  CwPracticeCar *car;
  CwPracticeRadioSetup radio;
  guint seat, position;
  guint64 seed;
  double stalls_after_s, gap_after_s;                     /* 0: never */
  double settings_rate_hz;                                /* 0: no table loaded */
  CwPracticeSettings settings[CW_PRACTICE_SPEAKERS_MOST]; /* by output - 1 */
} CwPracticeSetup;

/* Reads a setup; "{}" is the Alder Tourer as delivered. NULL with CW_PRACTICE_ERROR naming the place.
 * The caller's. */
CwPracticeSetup *cw_practice_setup_parse(const char *text, GError **error);
void cw_practice_setup_free(CwPracticeSetup *setup);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwPracticeSetup, cw_practice_setup_free)

/* How many device outputs there are: the processor's, and its two inputs. */
guint cw_practice_setup_get_outputs(const CwPracticeSetup *setup);

/* How many device inputs: the microphone and the cable. */
#define CW_PRACTICE_INPUTS 2u

/* Loads the processor from a coefficient table's JSON text (format cabinwright-table, either a_sign); NULL
 * unloads it. FALSE with CW_PRACTICE_ERROR, and nothing loaded, when it is wrong. */
gboolean cw_practice_setup_load_table(CwPracticeSetup *setup, const char *table, GError **error);
