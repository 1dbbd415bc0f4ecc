/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"
#include <stdbool.h>

/* Exponential sine sweep after Farina (AES 108, 2000), synchronised after Novak et al. (JAES 63, 2015): x(t)
 * = a(t) sin(2 pi f1 L exp(t / L)) with f1 L whole, so that the response to harmonic n is the sweep's own, L
 * ln n seconds early, with its phase right. The sweep is defined in continuous time and rendered at any rate,
 * so that a recorder whose rate or clock differs from the player's is met by rendering, without resampling
 * the recording. */
typedef struct {
  double start_hz, stop_hz;
  double growth_seconds; /* L: the time in which the frequency grows by e */
  double seconds;        /* from first to last sample */
  double level;          /* peak amplitude, full scale 1 */
  double protect_hz;     /* below this the amplitude falls, 6 dB per octave and order; 0 for none */
  int protect_order;
  double fade_in_octaves, fade_out_octaves; /* raised-cosine fades over parts of an octave; 0 for none */
} CwSweep;

#define CW_SWEEP_PROTECT_ORDER 4
#define CW_SWEEP_FADE_IN_OCTAVES (1.0 / 6)
#define CW_SWEEP_FADE_OUT_OCTAVES (1.0 / 24)

/* A sweep from start_hz to stop_hz that spends about growth_seconds on each factor of e, with the fades and
 * the order of protection above. level_dbfs is its peak. */
CwSweep cw_sweep_design(double start_hz, double stop_hz, double growth_seconds, double level_dbfs,
                        double protect_hz);

/* How many samples the sweep takes at rate_hz. */
size_t cw_sweep_frames(const CwSweep *sweep, double rate_hz);

/* Adds cw_sweep_frames() samples to out. Above half the rate there is silence. */
void cw_sweep_render(const CwSweep *sweep, double rate_hz, double *out);

/* The amplitude at a frequency relative to the peak: the protection's fall and the fades' windows left out.
 */
double cw_sweep_shape(const CwSweep *sweep, double hz);

/* How long before the linear response harmonic n (2, 3, ...) begins, seconds. */
double cw_sweep_harmonic_advance(const CwSweep *sweep, int harmonic);

/* Prepared once for a length of recording, used for many. */
typedef struct CwSweepInverse CwSweepInverse;

/* An inverse for recordings of up to frames samples at rate_hz (the recorder's true rate against the player's
 * clock, so that a player p ppm fast is met with rate / (1 + p 1e-6)). Outside start_hz to stop_hz the result
 * has no energy. Free with cw_sweep_inverse_free(). */
CwSweepInverse *cw_sweep_inverse_new(const CwSweep *sweep, double rate_hz, size_t frames);
void cw_sweep_inverse_free(CwSweepInverse *inverse);

/* The length of the response, a good length for transforms, at least frames. */
size_t cw_sweep_inverse_length(const CwSweepInverse *inverse);

/* The impulse response of what lies between sweep and recording. response takes cw_sweep_inverse_length()
 * samples; index 0 stands for a sweep that starts with the recording; times wrap round, so harmonic responses
 * of an early start lie at the end. */
void cw_sweep_deconvolve(CwSweepInverse *inverse, const double *recording, size_t frames, double *response);

/* Harmonic n's part of a deconvolved response: the amplitude at harmonic * hz over the linear response's at
 * hz, as the microphone hears them, for count excitation frequencies; NAN below 1.25 start_hz and where
 * harmonic * hz leaves the sweep. Right to 0.2 dB from 1.5 start_hz on where the harmonics are above the
 * noise. origin is the index of the linear response's start in response, length its length as above. */
void cw_sweep_distortion(const CwSweep *sweep, double rate_hz, const double *response, size_t length,
                         double origin, int harmonic, const double *hz, size_t count, double *ratio);
