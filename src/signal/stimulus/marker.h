/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/fft.h"
#include <stdbool.h>

/* A marker is a short burst that sweeps linearly through a band: played before and after a stimulus it gives
 * the start and the clock of a recording that knows nothing of the player. Defined in continuous time,
 * rendered at any rate. */
typedef struct {
  double low_hz, high_hz;
  double seconds;
  double level;     /* peak, full scale 1 */
  double fade_part; /* raised-cosine fade at either end, as a part of its length; 0 for none */
} CwMarker;

#define CW_MARKER_FADE_PART 0.1

typedef struct {
  double at_seconds; /* when the burst begins, from the recording's first sample, on the recorder's clock */
  double snr_db;     /* peak of the matched filter over the rms of its output elsewhere */
  double sign;       /* +1 or -1: sign of the correlation at its peak; no verdict on a speaker's polarity */
} CwMarkerHit;

/* Length of the marker at rate_hz, samples. */
size_t cw_marker_frames(const CwMarker *marker, double rate_hz);

/* Adds cw_marker_frames() samples to out. */
void cw_marker_render(const CwMarker *marker, double rate_hz, double *out);

/* Looks for bursts by the matched filter (Turin, IRE Trans. IT-6, 1960): the strongest first, then others at
 * least apart_seconds away, up to most. Returns how many stand at least least_snr_db above the rest, in order
 * of time. The time is interpolated between samples on the envelope. What a speaker and a room do to the
 * burst shifts all hits through them alike. */
size_t cw_marker_find(const CwMarker *marker, double rate_hz, const double *recording, size_t frames,
                      double apart_seconds, double least_snr_db, CwMarkerHit *hits, size_t most);

/* The time between two arrivals of a burst in one recording, from the phase of their cross spectrum over the
 * marker's band: much finer than the difference of two hits, for whatever stands between player and recorder
 * is the same for both. first and second are the hits' times, window_seconds how much around each is
 * compared. Seconds on the recorder's clock. */
double cw_marker_interval(const CwMarker *marker, double rate_hz, const double *recording, size_t frames,
                          double first_seconds, double second_seconds, double window_seconds);

/* How much two arrivals of a burst in one recording are alike, 1 for the same: their correlation once one is
 * shifted onto the other, the noise before the first taken off, mean over the third octaves from from_hz on
 * that stand 15 dB above it. Where the microphone has moved between them, echoes have shifted against the
 * direct sound and each other. NAN where fewer than three such bands are left. */
double cw_marker_agreement(const CwMarker *marker, double rate_hz, const double *recording, size_t frames,
                           double first_seconds, double second_seconds, double window_seconds,
                           double from_hz);
