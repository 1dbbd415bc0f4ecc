/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/survey.h"

#define CW_TAKE_TROUBLES 8u

/* What stays of a recording once it was heard; inside the room only. */
typedef struct {
  int lead;
  CwLeadResponse response[2]; /* to each of the track's sweeps */
  CwToneClip tone[CW_STIMULUS_TONES];
  double noise_rms, hum_rms;
  double loudest_rms, quiet_rms; /* of the blocks of the recording */
  CwForeignSound foreign[2];     /* in each response */
} CwAcceptedLead;

typedef struct {
  CwStimulusKind kind;
  double player_ppm, ppm_weight, track_rate_hz, volume_step;
  char *seat;
  bool unplaced; /* no track was found in it: only how loud it is stands here. The fader may have silenced all
                    leads */
  size_t leads;
  CwAcceptedLead *lead;
  CwTrouble trouble[CW_TAKE_TROUBLES]; /* that the recording itself shows */
  size_t troubles;
} CwAcceptedTake;

struct CwLeadSurvey {
  double volts_per_full_scale;
  GArray *takes;        /* CwAcceptedTake */
  GArray *left_out;     /* CwTrouble, of recordings that were not taken */
  bool told_as_trouble; /* the last one's sentence stands among the troubles */
};

/* --- check/: what the takes say of each other --- */

/* What a lead carries in a take when both channels play the same, by the take's kind. */
void cw_accepted_lead_sum(const CwAcceptedTake *take, const CwAcceptedLead *lead, CwLeadResponse *both);

/* The level of one response over another's (median, dB), and how much their shapes differ above the bass
 * (root mean square about it, dB); false where too little is heard of either. */
bool cw_lead_response_shapes(const CwLeadResponse *now, const CwLeadResponse *before, double *level_db,
                             double *shape_db);

/* Gives the channels of takes the leads that they hold, by their fine response against the take of the leads;
 * that one itself where all others say so. */
void cw_survey_put_channels_right(CwLeadSurvey *survey, CwAcceptedTake *main, CwSurveyResult *result);

/* What a lead plays of left and right: sets left and right and doubts, and own to its response to that mix.
 */
void cw_survey_conclude_mixed(CwSurveyResult *result, CwSurveyedLead *lead, const CwAcceptedLead *heard,
                              CwLeadResponse *own);

/* --- check/agreement.c: what the takes say of each other --- */

/* Puts right what can be put right in the takes of one setting, main among them: exchanged channels, levels
 * of a fader or balance that was not in its centre. What was found goes to the result's troubles. */
void cw_survey_reconcile(CwLeadSurvey *survey, CwAcceptedTake *main, CwSurveyResult *result);

/* Appends a trouble to the result, once. */
void cw_survey_add_trouble(CwSurveyResult *result, const CwTrouble *trouble);
/* A trouble of a code in a take (a CwStimulusKind, or CW_TROUBLE_NO_TAKE) with nothing else told: NAN, 0. */
CwTrouble cw_survey_trouble(CwTroubleCode code, int take);

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
