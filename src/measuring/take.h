/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/arrival/edges.h"
#include "measuring/feed.h"

typedef enum {
  CW_TIMING_LOOPBACK, /* the recorder also took the feed itself */
  CW_TIMING_MARKER,   /* another speaker played markers; the recorder may run on a clock of its own */
  CW_TIMING_NONE,
} CwTakeTiming;

/* Why a take is refused; a set. */
typedef enum {
  CW_TAKE_SILENT = 1 << 0,    /* nothing, or digital silence */
  CW_TAKE_CLIPPED = 1 << 1,   /* the microphone's channel reached full scale */
  CW_TAKE_SHORT = 1 << 2,     /* the recording ends before the feed does */
  CW_TAKE_NO_SWEEP = 1 << 3,  /* the feed is not in it */
  CW_TAKE_QUIET = 1 << 4,     /* too little above the noise over the speaker's band */
  CW_TAKE_DISTURBED = 1 << 5, /* something else sounded */
  CW_TAKE_NO_TIMING = 1 << 6, /* loopback silent, or markers not found */
  CW_TAKE_LATE = 1 << 7,      /* recording began with or after the feed: what the noise is cannot be known */
  CW_TAKE_MOVED = 1 << 8, /* the microphone moved: repeated sweeps or the two markers disagree, or the clock
                             ran otherwise than in other takes */
  CW_TAKE_WRONG_SPEAKER = 1 << 9, /* another output's speaker sounded */
} CwTakeFault;
#define CW_TAKE_LAST_FAULT CW_TAKE_WRONG_SPEAKER

typedef struct {
  const CwSweepFeed *feed;
  CwTakeTiming timing;
  const double *microphone; /* full scale 1 */
  const double *loopback;   /* NULL unless timing is by loopback */
  size_t frames;
  double rate_hz; /* the recorder's */
  const double *calibration_hz,
      *calibration_db; /* the microphone's own response; calibration_count may be 0 */
  size_t calibration_count;
  double spl_at_full_scale;
} CwTakeInput;

#define CW_TAKE_POINTS_PER_OCTAVE 48 /* twice as dense as the smoothing is wide */
#define CW_TAKE_SMOOTHING_OCTAVES (1.0 / 24)
#define CW_TAKE_LOW_HZ 20.0
#define CW_TAKE_POINTS 479 /* 20 Hz to just under 20 kHz */
#define CW_TAKE_DISTORTION_POINTS 30

typedef struct {
  unsigned faults; /* CwTakeFault; the take is accepted when none is set */
  double player_ppm;
  double arrival_seconds; /* after the loopback's or the marker's own arrival; NAN without timing */
  double latency_seconds; /* by loopback: how late the feed came back, counted from the recording's first
                             sample; of the way out and back where both began together. NAN otherwise */
  double polarity, polarity_confidence;
  CwEdges edges; /* where the first sound may be; seconds after the timing reference, as arrival_seconds is,
                    or after the likeliest edge without timing */
  double level_db_spl; /* while the sweep sounded, over the speaker's band */
  double snr_db;       /* median over the speaker's band */
  double hz[CW_TAKE_POINTS],
      db[CW_TAKE_POINTS];             /* dB SPL for a full-scale sine fed; NAN where noise hides it */
  double band_snr_db[CW_TAKE_POINTS]; /* of the 1/6 octave round each point; NAN outside of the sweep */
  double distortion_hz[CW_TAKE_DISTORTION_POINTS];
  double second_percent[CW_TAKE_DISTORTION_POINTS],
      third_percent[CW_TAKE_DISTORTION_POINTS]; /* NAN where noise hides it */
  double rattle_hz, rattle_db; /* exciting frequency, NAN for none; dB SPL of the rattle itself */
  float *impulse; /* impulse_frames samples at impulse_rate_hz, microphone taken off, pascal-like full scale;
                     owned by the result */
  size_t impulse_frames;
  double impulse_rate_hz;
  double
      impulse_start_seconds; /* of impulse[0], after the timing reference; after the arrival without timing */
} CwTakeResult;

/* Analyses one recorded take. Never fails: what is wrong stands in faults, and whatever could not be found is
 * NAN. Clear with cw_take_result_clear(). Methods: sweep deconvolution (signal/stimulus/sweep.h), the first
 * sound's edge (measuring/arrival/edges.h): arrival and polarity are the likeliest edge's. */
void cw_take_analyse(const CwTakeInput *input, CwTakeResult *result);
void cw_take_result_clear(CwTakeResult *result);

/* The highest frequency, Hz, of which a recording tells: where the sweep ends, or where the recorder's own
 * band does. */
double cw_take_top_hz(double sweep_stop_hz, double recorder_rate_hz);

/* The edges of an impulse response as a take keeps it, from its first sample on; for takes that were analysed
 * before there were edges. snr: third octaves as stored with the take; count 0 where there are none. */
void cw_take_find_edges(const CwEdgeSource *kept, CwEdges *edges);

/* A sentence for one fault: what is wrong and what to do. */
const char *cw_take_fault_text(CwTakeFault fault);
