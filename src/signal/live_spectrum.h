/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/bands.h"
#include <stdbool.h>
#include <stddef.h>

/* A running fractional-octave spectrum of one channel. Three parties may use it at the same time, one thread
 * each: the sound's own thread pushes samples, a worker updates, the window reads. None of them waits for
 * another, and after cw_live_spectrum_new() nothing is allocated. Each band is taken from the shortest of
 * several windows that still resolves it, so high bands follow quickly and low ones are sure: at 48 kHz from
 * 85 ms to 1.4 s. A band's flanks lie in the mask of IEC 61260-1, class 1, where the longest window resolves
 * it, that is where it is 3 Hz wide: third octaves from 20 Hz, twelfths from 55 Hz. */
typedef struct CwLiveSpectrum CwLiveSpectrum;

typedef enum {
  CW_BALLISTICS_FAST,    /* 125 ms, after IEC 61672-1 */
  CW_BALLISTICS_SLOW,    /* 1 s */
  CW_BALLISTICS_AVERAGE, /* mean power since the last reset */
} CwBallistics;

/* fraction 1 to 24; bands with centres from low_hz to high_hz that lie wholly below half the rate. Free with
 * cw_live_spectrum_free(), once all three parties have stopped. */
CwLiveSpectrum *cw_live_spectrum_new(double rate_hz, int fraction, double low_hz, double high_hz);
void cw_live_spectrum_free(CwLiveSpectrum *live);

size_t cw_live_spectrum_band_count(const CwLiveSpectrum *live);
const CwBand *cw_live_spectrum_bands(const CwLiveSpectrum *live);

/* Sound's thread: count samples, stride apart (the number of channels of an interleaved stream). Full scale
 * is 1. */
void cw_live_spectrum_push(CwLiveSpectrum *live, const float *samples, size_t stride, size_t count);

/* Worker: brings the levels up to what has been pushed; call it 10 to 50 times a second. Returns whether
 * there was anything new. */
bool cw_live_spectrum_update(CwLiveSpectrum *live);

/* Worker: from here on; the levels start afresh, the peaks stay. */
void cw_live_spectrum_set_ballistics(CwLiveSpectrum *live, CwBallistics ballistics);

/* Worker: forgets levels, averages and peaks. */
void cw_live_spectrum_reset(CwLiveSpectrum *live);

/* Window: the newest levels and the highest since the reset, dB re a mean square of 1 (a full-scale sine
 * stands at -3.01), a value a band; NAN until a band's window has filled. Either may be NULL. Returns whether
 * they are newer than at the last call. */
bool cw_live_spectrum_read(CwLiveSpectrum *live, double *level_db, double *peak_db);
