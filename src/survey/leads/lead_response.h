/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/check/foreign_sound.h"
#include "survey/recording/hum.h"
#include "survey/recording/track_place.h"

/* The points at which a lead is known: 1/24 octave from 11.9 Hz to 20.5 kHz, every second one a point of the
 * response that is told. */
#define CW_LEAD_PER_OCTAVE 24
#define CW_LEAD_BELOW 18 /* points below 20 Hz */
#define CW_LEAD_POINTS (CW_LEAD_BELOW + 241)

/* Frequency of a point of a response, Hz; 0 is the lowest. */
double cw_lead_hz(size_t point);

/* What one lead makes of what one channel (or both) of the track plays: volts, or parts of the recorder's
 * full scale, for a full-scale track. The response is value[i] e^(-j 2 pi f peak_seconds), so that value
 * turns slowly from point to point. */
typedef struct {
  double peak_seconds; /* after the track's own time; the recording's start_frame is a constant off for all
                          leads alike */
  CwComplex value[CW_LEAD_POINTS];
  double noise[CW_LEAD_POINTS]; /* root mean square of what noise adds to value, a complex number: along it
                                   and across it each 0.71 of that */
} CwLeadResponse;

/* A recording made ready: its rate brought to 44.1 or 48 kHz, placed, its hum taken off. */
typedef struct {
  CwStimulus stimulus;
  CwTrackPlace place;
  double rate_hz;
  size_t channels, frames;
  double spread_seconds; /* from the earliest lead to the latest, where it is more than a little; else 0 */
  double **channel;
  CwHum *hum;        /* of each channel */
  double *noise_rms; /* of each channel's silences, without hum */
  size_t silences;
  CwStretch silence[8];
  bool *clipped; /* the recorder's full scale was reached */
  bool *flat;    /* cut off flat below it */
  double step;   /* of the recorder's numbers, where it is a coarse one; else 0 */
} CwRecordedTake;

/* Takes the samples over (they are changed) but not the arrays. Where place.verdict is not CW_PLACE_FOUND
 * nothing else is valid. Clear with cw_recorded_take_clear(). */
CwRecordedTake cw_recorded_take_new(CwStimulusKind kind, double *const *channel, size_t channels,
                                    size_t frames, double rate_hz);
void cw_recorded_take_clear(CwRecordedTake *heard);

/* The silences of a placed track in frames, where the last lead comes spread_seconds after the first. Returns
 * how many. */
size_t cw_recorded_take_silences(const CwStimulus *stimulus, const CwTrackPlace *place, double spread_seconds,
                                 size_t frames, double rate_hz, CwStretch *silence);

/* Response of channel c to the track's sweep number which; the inverse serves all channels and sweeps of one
 * length. */
CwSweepInverse *cw_recorded_take_inverse(const CwRecordedTake *heard, size_t which);
void cw_recorded_take_respond(const CwRecordedTake *heard, CwSweepInverse *inverse, size_t which, size_t c,
                              CwLeadResponse *response);

/* The same, with what is foreign in it. */
void cw_recorded_take_respond_and_check(const CwRecordedTake *heard, CwSweepInverse *inverse, size_t which,
                                        size_t c, CwLeadResponse *response, CwForeignSound *foreign);
