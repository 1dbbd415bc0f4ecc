/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/survey.h"

/* What stays of a recording once it was heard; inside the room only. */
typedef struct {
  int lead;
  CwLeadResponse response[2]; /* to each of the track's sweeps */
  CwToneClip tone[CW_STIMULUS_TONES];
  double noise_rms, hum_rms;
  double loudest_rms, quiet_rms; /* of the blocks of the recording */
} CwAcceptedLead;

typedef struct {
  CwStimulusKind kind;
  double player_ppm, ppm_weight, track_rate_hz, volume_step;
  char *seat;
  bool unplaced; /* no track was found in it: only how loud it is stands here. The fader may have silenced all
                    leads */
  size_t leads;
  CwAcceptedLead *lead;
} CwAcceptedTake;

struct CwLeadSurvey {
  double volts_per_full_scale;
  GArray *takes; /* CwAcceptedTake */
};

/* Sets a lead's loudest and quiet level, of blocks of a twentieth of a second. */
void cw_accepted_lead_levels(const double *samples, size_t frames, double rate_hz, CwAcceptedLead *lead);

/* A lead's response in a take, all its sweeps added: what it carries when both channels play the same. */
void cw_accepted_lead_both(const CwAcceptedLead *lead, size_t sweeps, CwLeadResponse *both);
/* Multiplies a response by gain and moves it by seconds later. */
void cw_lead_response_move(CwLeadResponse *response, double gain, double seconds);

/* Delay (seconds) and gain of one response against another of the same lead, from phase and size over the
 * points that both hold. false where there are too few. */
bool cw_lead_response_compare(const CwLeadResponse *one, const CwLeadResponse *other, double *later_seconds,
                              double *gain);

/* Median over the points from low to high hz of one's level over the other's, dB, where the one stands snr
 * times above noise; NAN for none. silent_ok counts the other's noise as its level where it is less. */
double cw_lead_response_change_db(const CwLeadResponse *now, const CwLeadResponse *before, double low_hz,
                                  double high_hz, double least_snr, bool silent_ok);

/* The parts of a conclusion. */
void cw_survey_conclude_volumes(const CwLeadSurvey *survey, const CwAcceptedTake *main,
                                CwSurveyResult *result);
void cw_survey_conclude_ends(const CwLeadSurvey *survey, const CwAcceptedTake *main, CwSurveyResult *result);
void cw_survey_conclude_band(CwSurveyedLead *lead);
void cw_survey_conclude_seat(CwSurveyResult *result, const CwSurveyResult *other);
/* A take of a kind, with or without a track in it, that holds a lead (0 for any); NULL for none. */
const CwAcceptedTake *cw_survey_find_take(const CwLeadSurvey *survey, CwStimulusKind kind, int lead,
                                          bool unplaced);
const CwAcceptedLead *cw_accepted_take_lead(const CwAcceptedTake *take, int lead);
