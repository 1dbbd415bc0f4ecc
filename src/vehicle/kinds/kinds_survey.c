/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/kinds/kinds.h"

#include <glib/gi18n-lib.h>

/* clang-format off */
static CW_CHOICES(CwBalance, CW_BALANCE, balances) = {{"left", N_("Left")}, {"centre", N_("Centre")}, {"right", N_("Right")}, {NULL, NULL}};
static CW_CHOICES(CwFader, CW_FADER, faders) = {{"front", N_("Front")}, {"centre", N_("Centre")}, {"rear", N_("Rear")}, {NULL, NULL}};
static CW_CHOICES(CwRadioVolume, CW_VOLUME, volumes) = {{"survey", N_("Survey")}, {"loud", N_("Loud")}, {"quiet", N_("Quiet")}, {NULL, NULL}};
static CW_CHOICES(CwLeadEnd, CW_END, ends) = {{"front", N_("Front")}, {"rear", N_("Rear")}, {"unfaded", N_("Unfaded")}, {NULL, NULL}};

static CW_CHOICES(CwLeadBand, CW_BAND, bands) = {
  {"high", N_("High")}, {"mid", N_("Mid")}, {"low", N_("Low")}, {"bass", N_("Bass")}, {"full", N_("Full")}, {NULL, NULL},
};

/* --- test tracks and recordings --- */

static const CwField track_fields[] = {
  {.key = "file", .type = CW_FIELD_TEXT, .label = N_("File"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "seconds", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0, .most = 3600, .label = N_("Length")},
  {.key = "says", .type = CW_FIELD_TEXT, .label = N_("What it holds")},
};
CW_DEFINE_KIND(CwTrack, cw_track, TRACK, track_fields)

static const CwField track_take_fields[] = {
  {.key = "id", .type = CW_FIELD_TEXT, .label = N_("Take"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "track", .type = CW_FIELD_TEXT, .label = N_("Track"), .flags = CW_FIELD_REQUIRED},
  {.key = "balance", .type = CW_FIELD_CHOICE, .choices = balances, .initial = 1, .label = N_("Balance")},
  {.key = "fader", .type = CW_FIELD_CHOICE, .choices = faders, .initial = 1, .label = N_("Fader")},
  {.key = "volume", .type = CW_FIELD_CHOICE, .choices = volumes, .label = N_("Volume")},
  {.key = "why", .type = CW_FIELD_TEXT, .label = N_("What it is for")},
};
CW_DEFINE_KIND(CwTrackTake, cw_track_take, TRACK_TAKE, track_take_fields)

static const CwField track_index_fields[] = {
  {.key = "tracks", .type = CW_FIELD_RECORDS, .child = cw_track_get_type, .label = N_("Tracks")},
  {.key = "takes", .type = CW_FIELD_RECORDS, .child = cw_track_take_get_type, .label = N_("Takes")},
};
CW_DEFINE_KIND(CwTrackIndex, cw_track_index, TRACK_INDEX, track_index_fields)

/* One recording of a take: a take recorded in several goes is there several times, under one id. */
static const CwField survey_take_fields[] = {
  {.key = "id", .type = CW_FIELD_TEXT, .label = N_("Take"), .flags = CW_FIELD_REQUIRED},
  {.key = "track", .type = CW_FIELD_TEXT, .label = N_("Track"), .flags = CW_FIELD_REQUIRED},
  {.key = "recording", .type = CW_FIELD_TEXT, .label = N_("Recording"), .flags = CW_FIELD_REQUIRED},
  {.key = "leads", .type = CW_FIELD_NUMBERS, .least = 1, .most = 64, .label = N_("Leads"),
   .flags = CW_FIELD_REQUIRED | CW_FIELD_WHOLE},
  {.key = "volume_step", .type = CW_FIELD_INTEGER, .least = 0, .most = 1000, .label = N_("Volume step"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "balance", .type = CW_FIELD_CHOICE, .choices = balances, .initial = 1, .label = N_("Balance")},
  {.key = "fader", .type = CW_FIELD_CHOICE, .choices = faders, .initial = 1, .label = N_("Fader")},
  {.key = "seat_setting", .type = CW_FIELD_TEXT, .initial_text = "all", .label = N_("Seat setting")},
};
CW_DEFINE_KIND(CwSurveyTake, cw_survey_take, SURVEY_TAKE, survey_take_fields)

static const CwField survey_takes_fields[] = {
  {.key = "takes", .type = CW_FIELD_RECORDS, .child = cw_survey_take_get_type, .label = N_("Takes"), .flags = CW_FIELD_REQUIRED},
  {.key = "volts_per_full_scale", .type = CW_FIELD_NUMBER, .unit = "V", .least = 0.001, .most = 1000,
   .label = N_("Volts at full scale"), .flags = CW_FIELD_NULLABLE},
};
CW_DEFINE_KIND(CwSurveyTakes, cw_survey_takes, SURVEY_TAKES, survey_takes_fields)

static const CwField volts_reading_fields[] = {
  {.key = "lead", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Lead"), .flags = CW_FIELD_NULLABLE},
  {.key = "volts", .type = CW_FIELD_NUMBER, .unit = "V", .least = 0, .most = 1000, .label = N_("Multimeter, effective value")},
  {.key = "tone_dbfs", .type = CW_FIELD_NUMBER, .unit = "dBFS", .least = -200, .most = 20, .label = N_("Tone as recorded, peak")},
  {.key = "volts_per_full_scale", .type = CW_FIELD_NUMBER, .unit = "V", .least = 0.001, .most = 1000, .initial = 1,
   .label = N_("Volts at full scale"), .meaning = N_("The peak voltage on a lead at which the recorder's input is full.")},
};
CW_DEFINE_KIND(CwVoltsReading, cw_volts_reading, VOLTS_READING, volts_reading_fields)

/* --- what the survey found --- */

static const CwField lead_fields[] = {
  {.key = "lead", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Lead"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "side", .type = CW_FIELD_CHOICE, .choices = cw_sides, .label = N_("Side"), .flags = CW_FIELD_NULLABLE},
  {.key = "end", .type = CW_FIELD_CHOICE, .choices = ends, .label = N_("End"), .flags = CW_FIELD_NULLABLE},
  {.key = "band", .type = CW_FIELD_CHOICE, .choices = bands, .label = N_("Band"), .flags = CW_FIELD_NULLABLE},
  {.key = "low_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("Low edge"), .flags = CW_FIELD_NULLABLE},
  {.key = "high_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("High edge"), .flags = CW_FIELD_NULLABLE},
  {.key = "polarity", .type = CW_FIELD_CHOICE, .choices = cw_polarities, .label = N_("Polarity"), .flags = CW_FIELD_NULLABLE},
  {.key = "delay_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -1000, .most = 1000, .label = N_("Delay"), .flags = CW_FIELD_NULLABLE},
  {.key = "delay_deviation_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = 0, .most = 1000, .label = N_("Standard deviation of the delay"),
   .meaning = N_("What the noise of the recording and the width of the lead's band leave to it."), .flags = CW_FIELD_NULLABLE},
  {.key = "level_dbv", .type = CW_FIELD_NUMBER, .unit = "dBV", .least = -300, .most = 100, .label = N_("Level"), .flags = CW_FIELD_NULLABLE},
  {.key = "clean_dbv", .type = CW_FIELD_NUMBER, .unit = "dBV", .least = -300, .most = 100, .label = N_("Level at the highest clean volume"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "all_pass", .type = CW_FIELD_BOOLEAN, .label = N_("All-pass")},
  {.key = "all_pass_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("All-pass frequency"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "all_pass_q", .type = CW_FIELD_NUMBER, .least = 0.01, .most = 100, .label = N_("All-pass Q"), .flags = CW_FIELD_NULLABLE},
  {.key = "clip_dbfs", .type = CW_FIELD_NUMBER, .unit = "dBFS", .least = -200, .most = 20, .label = N_("Clips at"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "clip_tone_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("Clipping tone"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "clip_one_side", .type = CW_FIELD_BOOLEAN, .label = N_("Tone on one side")},
  {.key = "noise_dbv", .type = CW_FIELD_NUMBER, .unit = "dBV", .least = -300, .most = 100, .label = N_("Noise"), .flags = CW_FIELD_NULLABLE},
  {.key = "hum_dbv", .type = CW_FIELD_NUMBER, .unit = "dBV", .least = -300, .most = 100, .label = N_("Hum"), .flags = CW_FIELD_NULLABLE},
  {.key = "response", .type = CW_FIELD_CURVE, .unit = "dB", .significant = 6, .label = N_("Response"), .flags = CW_FIELD_NULLABLE},
  {.key = "phase", .type = CW_FIELD_CURVE, .unit = "°", .significant = 6, .label = N_("Phase without the delay"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "linear_phase", .type = CW_FIELD_BOOLEAN, .label = N_("Filters without phase"), .flags = CW_FIELD_SPARSE},
  {.key = "mix_left", .type = CW_FIELD_NUMBER, .least = -1, .most = 1, .label = N_("Part of left in it"),
   .meaning = N_("Where it is neither one channel nor half of each."), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "mix_right", .type = CW_FIELD_NUMBER, .least = -1, .most = 1, .label = N_("Part of right in it"),
   .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "doubtful", .type = CW_FIELD_TEXTS, .label = N_("Doubtful"), .meaning = N_("The figures that a trouble leaves in doubt."),
   .flags = CW_FIELD_SPARSE},
  {.key = "skipped", .type = CW_FIELD_BOOLEAN, .label = N_("Left out of the mix"),
   .meaning = N_("The lead is not to be used, whatever it carries.")},
  {.key = "set_aside", .type = CW_FIELD_RECORD, .child = cw_input_correction_get_type,
   .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN | CW_FIELD_SPARSE}, /* its correction by hand, while the mix does without it */
};
CW_DEFINE_KIND(CwLead, cw_lead, LEAD, lead_fields)

static const CwField lead_sum_fields[] = {
  {.key = "name", .type = CW_FIELD_TEXT, .label = N_("Sum"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "leads", .type = CW_FIELD_NUMBERS, .least = 1, .most = 64, .label = N_("Leads"), .flags = CW_FIELD_WHOLE},
  {.key = "side", .type = CW_FIELD_CHOICE, .choices = cw_sides, .initial = CW_SIDE_BOTH, .label = N_("Side")},
  {.key = "low_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("Low edge"), .flags = CW_FIELD_NULLABLE},
  {.key = "high_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("High edge"), .flags = CW_FIELD_NULLABLE},
  {.key = "loss_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -100, .most = 300, .label = N_("Lost in summing"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "advised", .type = CW_FIELD_BOOLEAN, .label = N_("Advised")},
  {.key = "why", .type = CW_FIELD_TEXT, .label = N_("Why")},
  {.key = "response", .type = CW_FIELD_CURVE, .unit = "dB", .significant = 6, .label = N_("Response"), .flags = CW_FIELD_NULLABLE},
};
CW_DEFINE_KIND(CwLeadSum, cw_lead_sum, LEAD_SUM, lead_sum_fields)

CW_COMMON_FIELDS(cw_lead_or_sum, (CwLead, CwLeadSum), (side, low_hz, high_hz, response))

static const CwField correction_fields[] = {
  {.key = "inputs", .type = CW_FIELD_RECORDS, .child = cw_input_correction_get_type, .label = N_("Inputs")},
  {.key = "flatness_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 300, .label = N_("Flatness reached"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "low_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("From"), .flags = CW_FIELD_NULLABLE},
  {.key = "high_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("To"), .flags = CW_FIELD_NULLABLE},
  {.key = "worst_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("Farthest off at"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "delay_wanted_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = 0, .most = 2000, .label = N_("Longest delay wanted"),
   .meaning = N_("Where it is longer than the processor has."), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "why", .type = CW_FIELD_TEXTS, .label = N_("Why")},
};
CW_DEFINE_KIND(CwCorrection, cw_correction, CORRECTION, correction_fields)

/* What radios, recorders and hands did wrong: the code, and the figures that belong to it. */
static const CwField told_trouble_fields[] = {
  {.key = "code", .type = CW_FIELD_TEXT, .label = N_("Code"), .flags = CW_FIELD_REQUIRED},
  {.key = "take", .type = CW_FIELD_TEXT, .label = N_("Take"), .flags = CW_FIELD_NULLABLE},
  {.key = "lead", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Lead"), .flags = CW_FIELD_NULLABLE},
  {.key = "other", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Other lead"), .flags = CW_FIELD_NULLABLE},
  {.key = "seconds", .type = CW_FIELD_NUMBER, .unit = "s", .least = -1000, .most = 100000, .label = N_("At"), .flags = CW_FIELD_NULLABLE},
  {.key = "hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 0, .most = 1000000, .label = N_("About"), .flags = CW_FIELD_NULLABLE},
  {.key = "amount", .type = CW_FIELD_NUMBER, .least = -100000, .most = 100000, .label = N_("By"),
   .meaning = N_("Decibels, or milliseconds of a dropout and of frames lost."), .flags = CW_FIELD_NULLABLE},
  {.key = "left", .type = CW_FIELD_NUMBER, .least = -1, .most = 1, .label = N_("Part of left"), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "right", .type = CW_FIELD_NUMBER, .least = -1, .most = 1, .label = N_("Part of right"), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "left_out", .type = CW_FIELD_BOOLEAN, .label = N_("The recording was left out")},
};
CW_DEFINE_KIND(CwToldTrouble, cw_told_trouble, TOLD_TROUBLE, told_trouble_fields)

static const CwField survey_fields[] = {
  {.key = "player_ppm", .type = CW_FIELD_NUMBER, .unit = "ppm", .least = -10000, .most = 10000, .label = N_("Player's clock"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "loud_volume_step", .type = CW_FIELD_INTEGER, .least = 0, .most = 1000, .label = N_("Loud volume step"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "clean_volume_step", .type = CW_FIELD_INTEGER, .least = 0, .most = 1000, .label = N_("Highest clean volume step"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "volts_per_full_scale", .type = CW_FIELD_NUMBER, .unit = "V", .least = 0.001, .most = 1000,
   .label = N_("Volts at full scale"), .meaning = N_("Of the recorder; what the levels in volts rest on."), .flags = CW_FIELD_NULLABLE},
  {.key = "volts_untold", .type = CW_FIELD_BOOLEAN, .label = N_("Levels as if a volt filled the recorder")},
  {.key = "loudness_found", .type = CW_FIELD_BOOLEAN, .label = N_("Bass lift that follows the volume")},
  {.key = "loudness_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -100, .most = 100, .label = N_("Bass lift at low volume"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "seat_setting", .type = CW_FIELD_TEXT, .label = N_("Seat setting"), .meaning = N_("The radio's seat setting during the survey.")},
  {.key = "other_seat_setting", .type = CW_FIELD_TEXT, .label = N_("Seat setting compared with"), .flags = CW_FIELD_NULLABLE},
  {.key = "seat_active", .type = CW_FIELD_BOOLEAN, .label = N_("The seat setting delays a side")},
  {.key = "seat_delay_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -1000, .most = 1000, .label = N_("Delay by the seat setting"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "seat_side", .type = CW_FIELD_CHOICE, .choices = cw_sides, .label = N_("Side that the seat setting delays"), .flags = CW_FIELD_NULLABLE},
  {.key = "silent_fader", .type = CW_FIELD_CHOICE, .choices = faders, .label = N_("Fader position in which nothing was heard"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "refused", .type = CW_FIELD_TEXTS, .label = N_("Recordings left out"), .meaning = N_("What is wrong with each.")},
  {.key = "troubles", .type = CW_FIELD_RECORDS, .child = cw_told_trouble_get_type, .label = N_("Troubles")},
  {.key = "doubtful", .type = CW_FIELD_TEXTS, .label = N_("Doubtful"), .meaning = N_("The figures that a trouble leaves in doubt."),
   .flags = CW_FIELD_SPARSE},
  {.key = "leads", .type = CW_FIELD_RECORDS, .child = cw_lead_get_type, .label = N_("Leads")},
  {.key = "sums", .type = CW_FIELD_RECORDS, .child = cw_lead_sum_get_type, .label = N_("Sums")},
  {.key = "correction", .type = CW_FIELD_RECORD, .child = cw_correction_get_type, .label = N_("Correction"), .flags = CW_FIELD_NULLABLE},
  {.key = "findings", .type = CW_FIELD_RECORDS, .child = cw_finding_get_type, .label = N_("Findings")},
};
CW_DEFINE_KIND(CwSurvey, cw_survey, SURVEY, survey_fields)
/* clang-format on */
