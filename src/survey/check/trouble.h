/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/recording/stimulus.h"

/* What radios, recorders and hands do wrong while a survey is recorded, as far as the recordings show it. */
typedef enum {
  CW_TROUBLE_DROPOUT,            /* the sound broke off for a moment */
  CW_TROUBLE_FRAMES_LOST,        /* the recorder left samples out, or the player skipped */
  CW_TROUBLE_FOREIGN_SOUND,      /* a chime, speech: a sound that is not the track's */
  CW_TROUBLE_CHANNELS_EXCHANGED, /* two channels hold each other's leads: put right */
  CW_TROUBLE_RECORDED_LOW,       /* so softly that the steps of the recorder's numbers show */
  CW_TROUBLE_RECORDER_CLIPS,     /* the interface's input gives out before its numbers do */
  CW_TROUBLE_WHINE,              /* a tone that is not mains hum */
  CW_TROUBLE_LIMITER,            /* the radio lowers loud sound */
  CW_TROUBLE_LEVEL,              /* a take at another volume than noted */
  CW_TROUBLE_RECORDER_GAIN,      /* the interface's gain was another in a take: allowed for */
  CW_TROUBLE_INPUT_LEVEL,        /* one lead's level is another in a take */
  CW_TROUBLE_BALANCE,            /* not in its centre: allowed for */
  CW_TROUBLE_FADER_OFF_CENTRE,   /* in the take of the leads: allowed for */
  CW_TROUBLE_FADER_UNMOVED,      /* no lead follows it */
  CW_TROUBLE_FADER_PART,         /* not turned to its stop */
  CW_TROUBLE_FADER_SAME,         /* at the same end in both takes */
  CW_TROUBLE_FADER_SWAPPED,      /* front and rear taken for each other, by what the leads carry */
  CW_TROUBLE_TONE_CONTROL,       /* bass or treble turned in one take */
  CW_TROUBLE_STEERED,            /* louder when both channels play the same */
  CW_TROUBLE_MIXED,              /* left and right in other parts than one or one half */
  CW_TROUBLE_MIXED_BY_BAND,      /* the same, and by frequency */
  CW_TROUBLE_LINEAR_PHASE,       /* an equaliser that turns no phase */
  CW_TROUBLE_TAKES_DISAGREE, /* a lead's response in one take is not that of another, and no cause known */
  CW_TROUBLES,
} CwTroubleCode;

#define CW_TROUBLE_NO_TAKE (-1)

/* Numbers that do not belong to a code are NAN, leads 0, take CW_TROUBLE_NO_TAKE. */
typedef struct {
  CwTroubleCode code;
  int take;           /* a CwStimulusKind */
  int lead, other;    /* the lead that shows it, and the one that it has to do with */
  double seconds;     /* when, after the recording's start */
  double hz;          /* about which frequency */
  double db;          /* by how much: a level, or how long in ms for DROPOUT and FRAMES_LOST */
  double left, right; /* MIXED: parts of the track's channels */
  bool left_out;      /* the take was not used */
} CwTrouble;

/* What is not to be relied on; bits. */
enum {
  CW_DOUBT_SIDE = 1,
  CW_DOUBT_END = 2,
  CW_DOUBT_BAND = 4, /* and its edges */
  CW_DOUBT_POLARITY = 8,
  CW_DOUBT_DELAY = 16,
  CW_DOUBT_LEVEL = 32,
  CW_DOUBT_RESPONSE = 64,
  CW_DOUBT_CLIP = 128,
  CW_DOUBT_ALL_PASS = 256,
  CW_DOUBT_CLOCK = 512, /* of the whole survey, as those that follow */
  CW_DOUBT_LOUDNESS = 1024,
  CW_DOUBT_CLEAN = 2048,
  CW_DOUBT_OF_RESPONSE = CW_DOUBT_BAND | CW_DOUBT_DELAY | CW_DOUBT_LEVEL | CW_DOUBT_RESPONSE |
                         CW_DOUBT_ALL_PASS | CW_DOUBT_POLARITY,
};
