/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/section.h"
#include "tuning/car/car.h"

/* What the whole car does for given settings, quickly: the one place where settings and measurements meet.
 * Plots, headroom, proof and report ask it; the fit works on the same products of responses. Frequencies are
 * 48 an octave from 20 Hz to just under 20 kHz. */
typedef struct CwPrediction CwPrediction;

#define CW_PREDICTION_PER_OCTAVE 48
#define CW_PREDICTION_LOW_HZ 20.0
#define CW_PREDICTION_POINTS 479

/* For a settled car; rate_hz is the processor's. All drives are silent at first. Keeps nothing of the car. */
CwPrediction *cw_prediction_new(const CwCar *car, double rate_hz);
void cw_prediction_free(CwPrediction *prediction);

/* How many outputs the car had. */
size_t cw_prediction_outputs(const CwPrediction *prediction);

/* At how many places it was measured. */
size_t cw_prediction_places(const CwPrediction *prediction);

/* The frequencies, CW_PREDICTION_POINTS values in Hz; borrowed. */
const double *cw_prediction_hz(const CwPrediction *prediction);

/* Sets what the processor does to an output: a cascade, a gain (linear; negative inverts) and a delay. output
 * is an index of the car's. */
void cw_prediction_set_drive(CwPrediction *prediction, size_t output, const CwCoefficients *cascade,
                             size_t sections, double gain, double delay_seconds);

/* How much of each input an output plays, where it differs from the car's own mix. */
void cw_prediction_set_mix(CwPrediction *prediction, size_t output, double left, double right);

/* Exchanges one section of an output's cascade for another; a good deal cheaper than setting the whole drive.
 */
void cw_prediction_change_section(CwPrediction *prediction, size_t output, const CwCoefficients *before,
                                  const CwCoefficients *after);

/* The complex response at one place, smoothed over 1/48 octave: CW_PREDICTION_POINTS values each of real and
 * imaginary part, owned by the prediction, valid until the next change. Delays common to all outputs are left
 * out. */
void cw_prediction_at_place(CwPrediction *prediction, CwSum sum, size_t place, const double **real,
                            const double **imaginary);

/* Level of the mean power over all places, dB (full-scale input), CW_PREDICTION_POINTS values. */
void cw_prediction_seat_db(const CwPrediction *prediction, CwSum sum, double *db);

/* The same for one output alone, its drive included. */
void cw_prediction_output_db(const CwPrediction *prediction, size_t output, double *db);

/* An output's drive alone, dB. */
void cw_prediction_drive_db(const CwPrediction *prediction, size_t output, double *db);
