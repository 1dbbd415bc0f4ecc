/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The description of a simulated vehicle: a box of a cabin, speakers, heads, a microphone, and defects that
 * can be switched on. Plain structs, read from JSON text.
 *
 * Places are metres from the cabin's rear left corner on the floor: x to the right, y forward, z up.
 */
#pragma once

#include "signal/filters/section.h"

#include <glib.h>

#define CW_PRACTICE_SPEAKERS_MOST 16
#define CW_PRACTICE_SEATS_MOST 8
#define CW_PRACTICE_POSITIONS 6
#define CW_PRACTICE_DEFECTS_MOST 8
#define CW_PRACTICE_SECTIONS_MOST 6
/* Octave bands with centres 63, 125, ... 16000 Hz, in which surfaces are described. */
#define CW_PRACTICE_BANDS 9

typedef struct {
  double x_m, y_m, z_m;
} CwPracticePoint;

typedef enum {
  CW_SURFACE_FLOOR,
  CW_SURFACE_ROOF,
  CW_SURFACE_SIDES,
  CW_SURFACE_ENDS,
  CW_SURFACES
} CwPracticeSurface;

typedef struct {
  double length_m, width_m, height_m;
  double absorption[CW_SURFACES][CW_PRACTICE_BANDS]; /* of energy at each reflection, 0.01 to 0.99 */
  double damping_db_per_m[CW_PRACTICE_BANDS];        /* what seats and people take from sound on its way */
} CwPracticeCabin;

typedef struct {
  guint count;
  CwSection section[CW_PRACTICE_SECTIONS_MOST];
} CwPracticeSections;

typedef struct {
  char *name;
  char *way, *side; /* as in the intake sheet */
  guint output;     /* of the processor, from 1 */
  CwPracticePoint at;
  CwPracticePoint aim;                  /* direction the cone faces, any length */
  double radius_cm;                     /* of the cone: large ones beam earlier; 0 radiates evenly */
  double fs_hz, q;                      /* resonance in its place, and its Q */
  double highest_hz;                    /* where it gives out at the top */
  double lowest_hz;                     /* lowest safe frequency */
  double level_db_spl;                  /* 1 m away in the open, for a full-scale sine at the output */
  double second_percent, third_percent; /* harmonics at -12 dBFS, well above resonance less */
  double nominal_ohm, rated_w;
  CwPracticeSections unevenness;
} CwPracticeSpeaker;

typedef enum {
  CW_DEFECT_REVERSED,
  CW_DEFECT_RATTLE,
  CW_DEFECT_SILENT,
  CW_DEFECT_SWAPPED, /* two outputs are on each other's speakers */
  CW_DEFECT_JOINED,  /* an output also reaches another one's speaker */
  CW_DEFECTS
} CwPracticeDefectKind;

typedef struct {
  char *name;
  CwPracticeDefectKind kind;
  guint output;
  guint with;            /* swapped, joined: the other output */
  double hz;             /* rattle: what sets it off */
  double level_db;       /* rattle: of the noise, relative to what shakes it */
  double threshold_dbfs; /* rattle: below this drive at hz it is quiet */
  CwPracticePoint at;    /* rattle: where it sits */
  gboolean on;           /* as delivered; switched by the setup */
} CwPracticeDefect;

typedef struct {
  char *name; /* "alder-tourer" */
  guint outputs;
  double rate_hz; /* of its processor */
  CwPracticeCabin cabin;
  guint speakers;
  CwPracticeSpeaker speaker[CW_PRACTICE_SPEAKERS_MOST];
  guint seats;
  struct {
    char *name;
    CwPracticePoint head;
  } seat[CW_PRACTICE_SEATS_MOST];
  guint defects;
  CwPracticeDefect defect[CW_PRACTICE_DEFECTS_MOST];
  CwPracticeSections microphone;
  double spl_at_full_scale; /* dB SPL of a sine whose peaks reach full scale */
  double microphone_noise_db_spl, rumble_db_spl;
  double latency_ms; /* from output to input */
  char *sheet;       /* the rest of its intake sheet as a JSON object: amplifiers, processor, supply ... */
} CwPracticeCar;

/* The car of a built-in name ("alder-tourer", "rowan-van"), or NULL. The caller's. */
CwPracticeCar *cw_practice_car_built_in(const char *name);

/* Reads a car from JSON text. NULL with CW_PRACTICE_ERROR naming the place and what was expected. The
 * caller's. */
CwPracticeCar *cw_practice_car_parse(const char *text, GError **error);
void cw_practice_car_free(CwPracticeCar *car);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwPracticeCar, cw_practice_car_free)

/* The index of a seat, or -1. */
int cw_practice_car_find_seat(const CwPracticeCar *car, const char *name);

/* The outputs that reach a speaker with the defects that are on, a bit each (bit 0 is output 1), and the one
 * among them through whose settings it plays. Several play at once only where outputs are joined; with
 * settings loaded, all of them play through that one's. */
guint32 cw_practice_car_wires(const CwPracticeCar *car, guint speaker, guint *settings_output);

/* Where the microphone stands: `position` 0 is the head's centre, 1 to 5 are around it (left and right ear,
 * forward, back, up). */
CwPracticePoint cw_practice_car_position(const CwPracticeCar *car, guint seat, guint position);

/* The JSON texts behind the built-in names; NULL for an unknown one. */
const char *cw_practice_built_in_text(const char *name);
