/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What happens to one output's signal before it is sound: the processor's settings, the amplifier's end, the
 * cone's distortion, and a rattle set off by it. All that is linear after it (resonance, limits, cabin,
 * microphone) is one impulse response, made by cw_practice_speaker_impulse().
 */
#pragma once

#include "simulator/practice_cabin.h"
#include "simulator/practice_setup.h"

typedef struct CwPracticeDrive CwPracticeDrive;

/* For one speaker of the setup, which must outlive it, at rate_hz. */
CwPracticeDrive *cw_practice_drive_new(const CwPracticeSetup *setup, guint speaker, double rate_hz);
void cw_practice_drive_free(CwPracticeDrive *drive);

/* Turns `count` samples at the processor's output, in place, into what moves the cone. */
void cw_practice_drive_run(CwPracticeDrive *drive, double *sample, gsize count);

/* One rattle set off by a drive's signal. */
typedef struct CwPracticeRattle CwPracticeRattle;
CwPracticeRattle *cw_practice_rattle_new(const CwPracticeDefect *defect, double rate_hz, guint64 seed);
void cw_practice_rattle_free(CwPracticeRattle *rattle);
void cw_practice_rattle_run(CwPracticeRattle *rattle, const double *drive, double *noise, gsize count);

/* From the cone's drive to the recorder: resonance, upper limit, unevenness, cabin, microphone. Full scale in
 * gives full scale out where the sound is as loud as the microphone's full scale. */
void cw_practice_speaker_impulse(const CwPracticeCar *car, guint speaker, const CwPracticePoint *microphone,
                                 double rate_hz, gsize length, double *response);
/* The same from a place that rattles. */
void cw_practice_rattle_impulse(const CwPracticeCar *car, guint defect, const CwPracticePoint *microphone,
                                double rate_hz, gsize length, double *response);
/* The microphone's own response in dB at a frequency. */
double cw_practice_microphone_db(const CwPracticeCar *car, double hz);

/* Noise that is the same for the same seed (SplitMix64: Steele, Lea and Flood, OOPSLA 2014). */
typedef struct {
  guint64 state;
} CwPracticeNoise;
/* About normal, mean 0, variance 1. */
double cw_practice_noise_next(CwPracticeNoise *noise);
