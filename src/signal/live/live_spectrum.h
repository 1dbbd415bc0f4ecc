/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/response/bands.h"
#include <stdbool.h>
#include <stddef.h>

/* A running fractional-octave spectrum of one channel. Three parties may use it at the same time, one thread
 * each: the sound's own thread pushes samples, a worker updates, the window reads. None of them waits for
 * another, and after cw_live_spectrum_new() nothing is allocated.
 *
 * The worker halves the rate again and again, and takes each band from the highest rate at which the window
 * still resolves it: so the window is as long as the band is narrow, high bands follow quickly and low ones
 * are sure. All bands of all fractions lie in the mask of IEC 61260-1, class 1. What that costs is time,
 * which no filter can save: a band 0.6 Hz wide follows 8 s late. cw_live_spectrum_seconds() tells. */
typedef struct CwLiveSpectrum CwLiveSpectrum;

typedef enum {
  CW_BALLISTICS_FAST,    /* 125 ms, after IEC 61672-1 */
  CW_BALLISTICS_SLOW,    /* 1 s */
  CW_BALLISTICS_AVERAGE, /* mean power since the last reset */
} CwBallistics;

/* fraction 1 to 24; bands with centres from low_hz (10 at least) to high_hz that lie wholly below half the
 * rate. Free with cw_live_spectrum_free(), once all three parties have stopped. */
CwLiveSpectrum *cw_live_spectrum_new(double rate_hz, int fraction, double low_hz, double high_hz);
void cw_live_spectrum_free(CwLiveSpectrum *live);

/* How many bands the spectrum has, from the lowest up. */
size_t cw_live_spectrum_band_count(const CwLiveSpectrum *live);

/* Its bands, as many; borrowed, valid as long as the spectrum. */
const CwBand *cw_live_spectrum_bands(const CwLiveSpectrum *live);

/* How long after a sound begins or ends the level of a band holds it wholly, time weighting apart. */
double cw_live_spectrum_seconds(const CwLiveSpectrum *live, size_t band);

/* Sound's thread: count samples, stride apart (the number of channels of an interleaved stream). Full scale
 * is 1. */
void cw_live_spectrum_push(CwLiveSpectrum *live, const float *samples, size_t stride, size_t count);

/* Worker: brings the levels up to what has been pushed; call it 10 to 50 times a second. Returns whether
 * there was anything new. */
bool cw_live_spectrum_update(CwLiveSpectrum *live);

/* Worker: from here on. An average starts afresh, without anything from before; the highest stay. */
void cw_live_spectrum_set_ballistics(CwLiveSpectrum *live, CwBallistics ballistics);

/* Worker: forgets levels, averages and the highest; each band is silent until its window holds nothing from
 * before. */
void cw_live_spectrum_reset(CwLiveSpectrum *live);

/* Worker: the highest begin anew from the levels as they are. */
void cw_live_spectrum_forget_highest(CwLiveSpectrum *live);

/* Window: the newest levels and the highest fast or slow levels since the reset, dB re a mean square of 1 (a
 * full-scale sine stands at -3.01), a value a band; NAN until a band's window has filled. Either may be NULL.
 * Returns whether they are newer than at the last call. */
bool cw_live_spectrum_read(CwLiveSpectrum *live, double *level_db, double *peak_db);
