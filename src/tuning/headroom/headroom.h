/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "electrics/cone.h"
#include "tuning/car/prediction.h"

/* How loud a tuned car plays, third octave by third octave, until the first thing gives out. */

typedef enum {
  CW_LIMIT_RADIO, /* the source plays its loudest clean sine: nothing after it gives out before */
  CW_LIMIT_PROCESSOR,
  CW_LIMIT_AMPLIFIER,
  CW_LIMIT_POWER,
  CW_LIMIT_TRAVEL,
  CW_LIMIT_DISTORTION,
  CW_LIMITS,
} CwLimitKind;

/* "radio", "processor" ... as files name them. */
const char *cw_limit_name(CwLimitKind kind);

#define CW_HEADROOM_BANDS 30 /* 20 Hz to 16 kHz */

/* What is known of an output's path behind the processor. NAN where it is not known: then it sets no limit.
 */
typedef struct {
  double mix;                 /* of both inputs together: how much of them alike it plays */
  double volts_at_full_scale; /* V RMS at the speaker for a full-scale sine out of the processor */
  double amplifier_volts;     /* V RMS that the amplifier has for this speaker */
  double speaker_volts;       /* V RMS of the speaker's rated power */
  CwCone cone;
  double clean_db[CW_HEADROOM_BANDS]; /* level of a sine out of the processor, dB re full scale, at which the
                                         speaker distorts more than it may, as measured; NAN */
} CwOutputPath;

typedef struct {
  double hz;     /* nominal, ISO 266 */
  double spl_db; /* what the seat gets at the limit, both inputs alike; NAN where nothing plays */
  CwLimitKind by;
  size_t output;      /* index of the car's; of no meaning for CW_LIMIT_RADIO */
  double headroom_db; /* how much louder the source could play there before something else gives out; below 0
                         where that comes before the source's loudest */
} CwHeadroomBand;

typedef struct {
  CwHeadroomBand band[CW_HEADROOM_BANDS];
  double spl_db; /* at 1 kHz, when all bands rise together until the first gives out */
} CwHeadroom;

/* Sets the bands' frequencies, and nothing else. */
void cw_headroom_bands(CwHeadroom *headroom);

/* prediction has its drives set; spl_at_full_scale: of the microphone, to which the prediction's levels
 * refer; path: one an output. Both inputs are driven alike, as bass and voices in the middle are. */
void cw_headroom_compute(const CwPrediction *prediction, const CwOutputPath *path, double spl_at_full_scale,
                         CwHeadroom *headroom);

/* What of an output gives out first when music plays as loud as the source can. */
typedef struct {
  double room_db; /* how much louder it could be; below 0 where something gives out before the source does */
  double hz;      /* of the third octave where that is */
  CwLimitKind by;
} CwMusicRoom;

/* drive_db: what the output's settings make of a full-scale sine, dB, at count rising frequencies hz; the
 * path's mix comes on top. Music leaves each third octave so far below a full-scale sine: 6 dB up to 125 Hz,
 * 10 dB up to 2 kHz, and 3 dB per octave more above; what heats a speaker for long is another 6 dB below
 * (common practice, no source). room_db is INFINITY where nothing is known that could give out. */
CwMusicRoom cw_headroom_for_music(const double *hz, const double *drive_db, size_t count,
                                  const CwOutputPath *path);

/* The level at which a speaker distorts limit_percent, dB re the level at which it was measured, when its
 * second harmonic rises with the level and its third with the level's square. Values in percent; NAN counts
 * as none. INFINITY where there is none to speak of. */
double cw_headroom_clean_db(double second_percent, double third_percent, double limit_percent);
