/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/decimator.h"
#include "signal/fft.h"
#include <stdbool.h>

/* One rate of a live spectrum: a stream cut into windows that overlap, each as long as the next, whatever
 * they hold turned into powers in bins. Half the rate makes the same window twice as long. */
#define CW_LIVE_WINDOW 1024

typedef struct {
  double rate_hz;
  size_t hop;      /* new samples from one window to the next */
  size_t settling; /* samples until the filters before this stage hold nothing but what came after */
  size_t skipped;  /* samples since the stream began, counted up to those */
  size_t held;     /* samples of the window that are there */
  size_t fresh;    /* samples since the last reset, counted up to a window's length and the settling */
  double samples[CW_LIVE_WINDOW];
  CwDecimator decimator; /* towards the next stage */
} CwLiveOctave;

/* What it takes to turn a window into powers, made once for all stages. */
typedef struct {
  const CwFft *fft;
  double *shape, *part;
  CwComplex *bins;
  double power[CW_LIVE_WINDOW / 2 + 1]; /* of the last window, in bins: added up they are the mean square */
} CwLiveAnalyser;

/* Allocates plan and window; cw_live_analyser_clear() frees them. Neither belongs into an audio callback.
 * */
void cw_live_analyser_init(CwLiveAnalyser *analyser);

/* Frees what cw_live_analyser_init() made. */
void cw_live_analyser_clear(CwLiveAnalyser *analyser);

/* Of the stage number, 0 for the stream itself, at the stage's own rate. */
void cw_live_octave_init(CwLiveOctave *stage, unsigned number, double rate_hz);

/* How long after a sound begins a window holds nothing else: the window and the filters before it. */
double cw_live_octave_seconds(const CwLiveOctave *stage);

/* After a gap in the stream: what is held is worth nothing. */
void cw_live_octave_restart(CwLiveOctave *stage);

/* From here on windows are fresh only when they hold nothing from before. */
void cw_live_octave_reset(CwLiveOctave *stage);
bool cw_live_octave_is_fresh(const CwLiveOctave *stage);

/* Takes samples up to the end of a window or of the samples; returns how many. */
size_t cw_live_octave_take(CwLiveOctave *stage, const double *samples, size_t count);

/* Whether a window is whole now. If so, cw_live_octave_analyse() and cw_live_octave_step() come next. */
bool cw_live_octave_is_whole(const CwLiveOctave *stage);
void cw_live_octave_analyse(const CwLiveOctave *stage, CwLiveAnalyser *analyser);

/* Leaves the oldest samples behind. */
void cw_live_octave_step(CwLiveOctave *stage);
