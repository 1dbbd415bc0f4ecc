/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/take.h"

/* What one short take of the proving run says of the speaker that sounded. */
typedef struct {
  bool sounded;
  double level_db_spl;
  double arrival_seconds; /* NAN without timing */
  double polarity, polarity_confidence;
  double low_hz, high_hz;    /* within 15 dB of the loudest third of an octave, as far as it was swept */
  double distortion_percent; /* highest harmonic within that band; NAN where noise hides it */
  double rattle_hz;          /* NAN for none */
} CwProvingHeard;

/* Reads a take that is whole (neither clipped nor disturbed nor short). Where nothing sounded all but sounded
 * is NAN. */
CwProvingHeard cw_proving_read(const CwTakeResult *result);

/* An impulse response on a clock that two takes share. */
typedef struct {
  const float *samples;
  size_t frames;
  double rate_hz, start_seconds;
  double low_hz, high_hz; /* where it is known */
  double arrival_seconds; /* on the same clock */
} CwProvingResponse;

/* How differently two outputs sound whatever their levels: rms of the difference in third octaves, dB, over
 * the band that both know; NAN where that is less than one and a half octaves. Speakers of one kind on either
 * side of a cabin differ by some decibels, speakers of two kinds by many. */
double cw_proving_difference_db(const CwProvingResponse *one, const CwProvingResponse *other);

/* How much of two outputs' sound at one place is the same, 0 to 1: what they have in common without any shift
 * in time, mean over third octaves from 400 Hz on. The direct sound is left out, which is alike for all
 * speakers as far away; no two places in a cabin have the same echoes. 1 for one speaker on both outputs,
 * about 0 for two. NAN where they share less than one and a half octaves or run at different rates. */
double cw_proving_likeness(const CwProvingResponse *one, const CwProvingResponse *other);

/* Whether two outputs' sound is one and the same, 0 to 1, direct sound and all: complex correlation, mean
 * over the third octaves in which both are within 15 dB of their loudest, down to the lowest. Above 0.98 for
 * one speaker on both outputs; for two, which differ in place and in kind, hardly ever above 0.8. NAN where
 * fewer than three such bands are left, or the rates differ. */
double cw_proving_sameness(const CwProvingResponse *one, const CwProvingResponse *other);

/* By how much one sounds louder than the other in the cabin's echoes, which hardly depend on where a speaker
 * stands and points, mean over the third octaves in which both sound, dB. NAN for fewer than three. */
double cw_proving_louder_db(const CwProvingResponse *one, const CwProvingResponse *other);
