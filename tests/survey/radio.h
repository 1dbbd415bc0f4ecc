/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A factory radio that is known: what its leads make of a track, and what a recorder hears of it. */
#pragma once
#include "signal/filters/crossover.h"
#include "signal/filters/section.h"
#include "survey/leads/lead_response.h"
#include "survey/survey.h"
#include <glib.h>

#define RADIO_RATE_HZ 48000.0
#define RADIO_LEAD_IN 9000 /* frames of silence that the recording begins and ends with */

typedef struct {
  int fed_from; /* CW_PLAYED_...; from both it gets their sum */
  double gain;  /* parts of the recorder's full scale for a full-scale track; negative: inverted */
  double delay_seconds;
  double rail; /* of the lead, parts of the recorder's full scale, at which it clips; 0 for none */
  double noise_rms;
  size_t sections;
  CwCoefficients cascade[8];
} RadioLead;

/* A full-range lead without anything done to it. */
RadioLead radio_lead(int fed_from, double gain, double delay_seconds);

/* Puts a section, or the sections of a filter, into the lead's path. */
void radio_add_section(RadioLead *lead, CwSectionKind kind, double hz, double gain_db, double q);
void radio_add_filter(RadioLead *lead, CwFilterFamily family, CwPass pass, int order, double hz);

/* The lead's response at a frequency, its delay counted from zero_seconds. */
CwComplex radio_response(const RadioLead *lead, double hz, double zero_seconds);

/* A recording of all leads while a track plays once; its channels are the caller's, by radio_clear(). */
typedef struct {
  size_t channels, frames;
  double **channel;
} RadioRecording;

RadioRecording radio_record(CwStimulusKind kind, const RadioLead *lead, size_t leads);
void radio_clear(RadioRecording *recording);

/* The same recording by a recorder whose clock is slow or fast, so that the player's seems to be ppm fast. */
void radio_drift(RadioRecording *recording, double ppm);

/* What an ideal measurement of the lead would give, with noise_part of the top's level as the deviation of
 * every point. */
void radio_ideal(const RadioLead *lead, double noise_part, CwLeadResponse *response);

/* Lets a survey accept what is in a recording; leads are numbered from 1. Takes the samples. */
char *radio_accept(CwLeadSurvey *survey, CwStimulusKind kind, RadioRecording *recording, double volume_step,
                   const char *seat);
