/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "signal/filters/crossover.h"
#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* The kinds of record. What each holds is said by its table, in the file named. */

/* kinds_sheet.c: the vehicle as it came in; the intake sheet is a part of it */
CW_DECLARE_KIND(CwVehicle, cw_vehicle, VEHICLE)
CW_DECLARE_KIND(CwSpeaker, cw_speaker, SPEAKER)
CW_DECLARE_KIND(CwMicrophone, cw_microphone, MICROPHONE)
CW_DECLARE_KIND(CwSupply, cw_supply, SUPPLY)
CW_DECLARE_KIND(CwCable, cw_cable, CABLE)
CW_DECLARE_KIND(CwAmplifierChannel, cw_amplifier_channel, AMPLIFIER_CHANNEL)
CW_DECLARE_KIND(CwAmplifier, cw_amplifier, AMPLIFIER)
CW_DECLARE_KIND(CwProcessor, cw_processor, PROCESSOR)
CW_DECLARE_KIND(CwCabin, cw_cabin, CABIN)
CW_DECLARE_KIND(CwHead, cw_head, HEAD)

/* kinds_survey.c: the factory radio */
CW_DECLARE_KIND(CwTrack, cw_track, TRACK)
CW_DECLARE_KIND(CwTrackTake, cw_track_take, TRACK_TAKE)
CW_DECLARE_KIND(CwTrackIndex, cw_track_index, TRACK_INDEX)
CW_DECLARE_KIND(CwSurveyTake, cw_survey_take, SURVEY_TAKE)
CW_DECLARE_KIND(CwSurveyTakes, cw_survey_takes, SURVEY_TAKES)
CW_DECLARE_KIND(CwVoltsReading, cw_volts_reading, VOLTS_READING)
CW_DECLARE_KIND(CwLead, cw_lead, LEAD)
CW_DECLARE_KIND(CwLeadSum, cw_lead_sum, LEAD_SUM)
CW_DECLARE_KIND(CwInputCorrection, cw_input_correction, INPUT_CORRECTION)
CW_DECLARE_KIND(CwCorrection, cw_correction, CORRECTION)
CW_DECLARE_KIND(CwSurvey, cw_survey, SURVEY)

/* kinds_measure.c: map, levels, takes, proof */
CW_DECLARE_KIND(CwMapProof, cw_map_proof, MAP_PROOF)
CW_DECLARE_KIND(CwLevelSetting, cw_level_setting, LEVEL_SETTING)
CW_DECLARE_KIND(CwLevels, cw_levels, LEVELS)
CW_DECLARE_KIND(CwFeed, cw_feed, FEED)
CW_DECLARE_KIND(CwRattle, cw_rattle, RATTLE)
CW_DECLARE_KIND(CwTake, cw_take, TAKE)
CW_DECLARE_KIND(CwProofRow, cw_proof_row, PROOF_ROW)
CW_DECLARE_KIND(CwListeningCheck, cw_listening_check, LISTENING_CHECK)

/* kinds_tune.c: settings and what was noticed */
CW_DECLARE_KIND(CwTuneSection, cw_tune_section, TUNE_SECTION)
CW_DECLARE_KIND(CwMix, cw_mix, MIX)
CW_DECLARE_KIND(CwTuneOutput, cw_tune_output, TUNE_OUTPUT)
CW_DECLARE_KIND(CwTuneHole, cw_tune_hole, TUNE_HOLE)
CW_DECLARE_KIND(CwTuneSeat, cw_tune_seat, TUNE_SEAT)
CW_DECLARE_KIND(CwTuneChoice, cw_tune_choice, TUNE_CHOICE)
CW_DECLARE_KIND(CwTune, cw_tune, TUNE)
CW_DECLARE_KIND(CwAbout, cw_about, ABOUT)
CW_DECLARE_KIND(CwFinding, cw_finding, FINDING)
CW_DECLARE_KIND(CwStage, cw_stage, STAGE)

/* Words that more than one table uses. */
extern const CwChoice cw_polarities[]; /* normal, inverted */
extern const CwChoice cw_sides[];      /* left, right, both */
extern const CwChoice cw_stages[];     /* the nine of the route, in order */

/* The order of the words above, and of others that the code asks for by index. */
enum { CW_POLARITY_NORMAL, CW_POLARITY_INVERTED };
enum { CW_INCIDENCE_0, CW_INCIDENCE_90 };
enum { CW_SIDE_LEFT, CW_SIDE_RIGHT, CW_SIDE_BOTH };
enum { CW_WAY_HIGH, CW_WAY_MID, CW_WAY_LOW, CW_WAY_FULL, CW_WAY_SUB };
enum {
  CW_STAGE_SHEET,
  CW_STAGE_SUPPLY,
  CW_STAGE_SIGNAL,
  CW_STAGE_MAP,
  CW_STAGE_LEVELS,
  CW_STAGE_MEASURING,
  CW_STAGE_TUNING,
  CW_STAGE_PROOF,
  CW_STAGE_HANDOVER,
  CW_N_STAGES
};
enum { CW_STAGE_UNTOUCHED, CW_STAGE_BEGUN, CW_STAGE_TO_SETTLE, CW_STAGE_DONE };
enum { CW_SEVERITY_STOP, CW_SEVERITY_ATTEND, CW_SEVERITY_NOTE };
enum { CW_SOUNDED_UNTRIED, CW_SOUNDED_HEARD, CW_SOUNDED_SILENT };
enum { CW_TIMING_LOOPBACK, CW_TIMING_MARKER, CW_TIMING_NONE };
enum { CW_USE_CROSSOVER, CW_USE_CORRECTION, CW_USE_VOICING };
/* A tune section's kind is a CwSectionKind, its family a CwFilterFamily. */

CwRecord *cw_vehicle_find_speaker(CwRecord *vehicle, gint64 output);
CwRecord *cw_vehicle_find_stage(CwRecord *vehicle, int stage);
CwRecord *cw_vehicle_add_finding(CwRecord *vehicle, const char *code, int severity, int stage);
void cw_vehicle_clear_findings(CwRecord *vehicle, int stage);

G_END_DECLS
