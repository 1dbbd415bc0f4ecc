/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/arrival/polarity.h"
#include "measuring/take.h"
#include "signal/stimulus/sweep.h"
#include "vehicle/kinds/kinds.h"

#include <glib/gi18n-lib.h>

/* clang-format off */
static CW_CHOICES_OF(CwTakeTiming, timings) = {
  [CW_TIMING_LOOPBACK] = {"loopback", N_("Cable from output to input 2")}, [CW_TIMING_MARKER] = {"marker", N_("Chirps from another speaker")}, [CW_TIMING_NONE] = {"none", N_("Distances from the sheet")}, {NULL, NULL}};
static CW_CHOICES(CwPurpose, CW_PURPOSE, purposes) = {
  {"tuning", N_("Tuning")}, {"proof", N_("Proof")}, {"check-up", N_("Check-up")}, {NULL, NULL}};

/* --- channel map and levels --- */

static CW_CHOICES(CwSounded, CW_SOUNDED, map_soundings) = {{"untried", N_("Not tried")}, {"heard", N_("Heard")}, {"silent", N_("Silent")}, {NULL, NULL}};

static const CwField map_proof_fields[] = {
  {.key = "output", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Output"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "proven", .type = CW_FIELD_BOOLEAN, .label = N_("Proven"), .meaning = N_("The right speaker was heard on the right side.")},
  {.key = "polarity", .type = CW_FIELD_CHOICE, .choices = cw_polarities, .label = N_("Polarity"), .flags = CW_FIELD_NULLABLE},
  {.key = "note", .type = CW_FIELD_TEXT, .label = N_("Note")},
  {.key = "made_utc", .type = CW_FIELD_TEXT, .label = N_("When")},
  {.key = "sounded", .type = CW_FIELD_CHOICE, .choices = map_soundings, .label = N_("Sounded"),
   .meaning = N_("Whether the microphone heard it in the proving run.")},
  {.key = "polarity_confidence", .type = CW_FIELD_NUMBER, .least = 0, .most = 1, .label = N_("Confidence")},
  {.key = "level_db_spl", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -100, .most = 250, .label = N_("Level"), .flags = CW_FIELD_NULLABLE},
  {.key = "arrival_left_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -10000, .most = 10000, .label = N_("Arrival, left"),
   .meaning = N_("At the microphone left of the head."), .flags = CW_FIELD_NULLABLE},
  {.key = "arrival_right_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -10000, .most = 10000, .label = N_("Arrival, right"),
   .meaning = N_("At the microphone right of the head."), .flags = CW_FIELD_NULLABLE},
  {.key = "start_left_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -10000, .most = 10000, .label = N_("Samples begin at"),
   .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN},
  {.key = "start_right_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -10000, .most = 10000, .label = N_("Samples begin at"),
   .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN},
  {.key = "low_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("Sounds from"), .flags = CW_FIELD_NULLABLE},
  {.key = "high_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("Sounds to"), .flags = CW_FIELD_NULLABLE},
  {.key = "distortion_percent", .type = CW_FIELD_NUMBER, .unit = "%", .least = 0, .most = 1000, .label = N_("Distortion"),
   .meaning = N_("The highest of second and third harmonic within its band."), .flags = CW_FIELD_NULLABLE},
  {.key = "rattle_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("Rattles at"), .flags = CW_FIELD_NULLABLE},
  {.key = "heard_side", .type = CW_FIELD_CHOICE, .choices = cw_sides, .label = N_("Heard on"), .meaning = N_("By the arrivals left and right of the head."),
   .flags = CW_FIELD_NULLABLE},
  {.key = "sounds_like", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Sounds like"),
   .meaning = N_("The output whose speaker fits best what was heard."), .flags = CW_FIELD_NULLABLE},
  {.key = "same_as", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Sounds with"),
   .meaning = N_("Another output that reaches the same speaker."), .flags = CW_FIELD_NULLABLE},
  {.key = "likeness", .type = CW_FIELD_NUMBER, .least = 0, .most = 1, .label = N_("Likeness"),
   .meaning = N_("How much of it sounds the same as that output."), .flags = CW_FIELD_NULLABLE},
  {.key = "quieter_than", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Quieter than"),
   .meaning = N_("The output of its twin on the other side, where it is much quieter than that."), .flags = CW_FIELD_NULLABLE},
  {.key = "quieter_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 200, .label = N_("Quieter by"),
   .meaning = N_("By how much, without what the distances explain."), .flags = CW_FIELD_NULLABLE},
};
CW_DEFINE_KIND(CwMapProof, cw_map_proof, MAP_PROOF, map_proof_fields)

static const CwField level_setting_fields[] = {
  {.key = "amplifier", .type = CW_FIELD_TEXT, .label = N_("Amplifier"), .flags = CW_FIELD_REQUIRED},
  {.key = "channel", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Channel"), .flags = CW_FIELD_REQUIRED},
  {.key = "target_v", .type = CW_FIELD_NUMBER, .unit = "V", .least = 0, .most = 1000, .label = N_("Target voltage"), .flags = CW_FIELD_NULLABLE},
  {.key = "read_v", .type = CW_FIELD_NUMBER, .unit = "V", .least = 0, .most = 1000, .label = N_("Voltage read"), .flags = CW_FIELD_NULLABLE},
  {.key = "done", .type = CW_FIELD_BOOLEAN, .label = N_("Set")},
};
CW_DEFINE_KIND(CwLevelSetting, cw_level_setting, LEVEL_SETTING, level_setting_fields)

static const CwField levels_fields[] = {
  {.key = "source_volume_step", .type = CW_FIELD_INTEGER, .least = 0, .most = 1000, .label = N_("Source volume step"),
   .meaning = N_("The highest clean volume of the source, at which gains are set."), .flags = CW_FIELD_NULLABLE},
  {.key = "allowance_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 20, .initial = 0,
   .label = N_("Allowance for quiet recordings"), .meaning = N_("How far below full scale the setting tone is recorded.")},
  {.key = "source_peak_v", .type = CW_FIELD_NUMBER, .unit = "V", .least = 0, .most = 1000, .label = N_("Source at that volume"),
   .meaning = N_("The peak voltage on the leads at the highest clean volume."), .flags = CW_FIELD_NULLABLE},
  {.key = "noise_floor_dbv", .type = CW_FIELD_NUMBER, .unit = "dBV", .least = -300, .most = 100, .label = N_("Noise floor"),
   .meaning = N_("The noise with nothing playing."), .flags = CW_FIELD_NULLABLE},
  {.key = "settings", .type = CW_FIELD_RECORDS, .child = cw_level_setting_get_type, .label = N_("Amplifier gains"),
   .meaning = N_("The target and the voltage read, channel by channel.")},
};
CW_DEFINE_KIND(CwLevels, cw_levels, LEVELS, levels_fields)

/* --- takes --- */

/* The feed last made for an output, and the feed of a take: all that a recording of it is to be analysed with, whatever
 * later versions of the program would play. All times are seconds on the player's clock. The sweep is exponential, its
 * first frequency times its growth a whole number (Novak et al., JAES 63, 2015); a marker is a linear chirp. */
static const CwField feed_fields[] = {
  {.key = "output", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Output"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "start_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .initial = 20, .label = N_("Start")},
  {.key = "stop_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 400000, .initial = 20000, .label = N_("Stop")},
  {.key = "seconds", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0.01, .most = 600, .initial = 5, .label = N_("Length")},
  {.key = "level_dbfs", .type = CW_FIELD_NUMBER, .unit = "dBFS", .least = -120, .most = 0, .initial = -12, .label = N_("Peak level")},
  {.key = "repeats", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .initial = 1, .label = N_("Sweeps"),
   .meaning = N_("How often the sweep is played; their mean is analysed.")},
  {.key = "rate_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 8000, .most = 768000, .initial = 48000, .label = N_("Sample rate")},
  {.key = "silence_s", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0, .most = 60, .label = N_("Silence before")},
  {.key = "tail_s", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0, .most = 60, .label = N_("Silence after")},
  {.key = "marker_output", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Marker's output"), .flags = CW_FIELD_NULLABLE},
  {.key = "marker_level_dbfs", .type = CW_FIELD_NUMBER, .unit = "dBFS", .least = -120, .most = 0, .label = N_("Marker's level"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "growth_s", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0.0001, .most = 600, .label = N_("Growth"),
   .meaning = N_("The time in which the sweep's frequency grows by a factor of e."), .flags = CW_FIELD_NULLABLE},
  {.key = "protect_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 0, .most = 100000, .label = N_("Protected below"),
   .meaning = N_("Below this frequency the sweep's level falls; 0 for nowhere.")},
  {.key = "protect_order", .type = CW_FIELD_INTEGER, .least = 0, .most = 16, .initial = CW_SWEEP_PROTECT_ORDER,
   .label = N_("Order of protection"), .meaning = N_("6 dB per octave each.")},
  {.key = "fade_in_octaves", .type = CW_FIELD_NUMBER, .least = 0, .most = 10, .initial = CW_SWEEP_FADE_IN_OCTAVES,
   .label = N_("Fade in"), .meaning = N_("A raised cosine over this part of an octave.")},
  {.key = "fade_out_octaves", .type = CW_FIELD_NUMBER, .least = 0, .most = 10, .initial = CW_SWEEP_FADE_OUT_OCTAVES,
   .label = N_("Fade out"), .meaning = N_("A raised cosine over this part of an octave.")},
  {.key = "period_s", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0, .most = 1200, .label = N_("Period"),
   .meaning = N_("From the start of one sweep to the next.")},
  {.key = "length_s", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0, .most = 100000, .label = N_("Whole length")},
  {.key = "marker_low_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 400000, .label = N_("Marker from"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "marker_high_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 400000, .label = N_("Marker to"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "marker_s", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0.0001, .most = 60, .label = N_("Marker's length"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "marker_fade", .type = CW_FIELD_NUMBER, .least = 0, .most = 0.5, .label = N_("Marker's fades"),
   .meaning = N_("A raised cosine over this part of its length at either end."), .flags = CW_FIELD_NULLABLE},
  {.key = "first_marker_s", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0, .most = 100000, .label = N_("First marker at"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "second_marker_s", .type = CW_FIELD_NUMBER, .unit = "s", .least = 0, .most = 100000, .label = N_("Second marker at"),
   .flags = CW_FIELD_NULLABLE},
};
CW_DEFINE_KIND(CwFeed, cw_feed, FEED, feed_fields)

static const CwField rattle_fields[] = {
  {.key = "hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .initial = 100, .label = N_("Rattles at")},
  {.key = "db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -300, .most = 300, .label = N_("How strong")},
};
CW_DEFINE_KIND(CwRattle, cw_rattle, RATTLE, rattle_fields)

static CW_CHOICES_OF(CwHeardPolarity, take_polarities) = {
  [CW_HEARD_NORMAL] = {"normal", N_("Normal")}, [CW_HEARD_INVERTED] = {"inverted", N_("Inverted")}, [CW_HEARD_OPEN] = {"unknown", N_("Unknown")}, {NULL, NULL}};
static CW_CHOICES(CwArrivalRest, CW_ARRIVAL, arrival_rests) = {
  {"sound", N_("Sound")}, {"distance", N_("Distance")}, {"both", N_("Sound and distance")}, {"hand", N_("Set by hand")}, {NULL, NULL}};

static const CwField take_fields[] = {
  {.key = "id", .type = CW_FIELD_TEXT, .label = N_("Take"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "output", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Output"), .flags = CW_FIELD_REQUIRED},
  {.key = "position", .type = CW_FIELD_TEXT, .label = N_("Position"), .meaning = N_("The seat, a slash and the place around the head."),
   .flags = CW_FIELD_REQUIRED},
  {.key = "purpose", .type = CW_FIELD_CHOICE, .choices = purposes, .label = N_("Purpose")},
  {.key = "timing", .type = CW_FIELD_CHOICE, .choices = timings, .initial = CW_TIMING_NONE, .label = N_("Timing")},
  {.key = "accepted", .type = CW_FIELD_BOOLEAN, .label = N_("Accepted")},
  {.key = "reasons", .type = CW_FIELD_TEXTS, .label = N_("Reasons"), .meaning = N_("Why it was refused.")},
  {.key = "arrival_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -10000, .most = 10000, .label = N_("Arrival"), .flags = CW_FIELD_NULLABLE},
  {.key = "arrival_doubt_us", .type = CW_FIELD_NUMBER, .unit = "us", .least = 0, .most = 10000000, .label = N_("Arrival doubt"),
   .meaning = N_("The arrival is within this much of the stated time, 95 times in 100."), .flags = CW_FIELD_NULLABLE},
  {.key = "arrival_by", .type = CW_FIELD_CHOICE, .choices = arrival_rests, .label = N_("Arrival from"),
   .meaning = N_("What the arrival rests on."), .flags = CW_FIELD_NULLABLE},
  {.key = "latency_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -10000, .most = 600000, .label = N_("Way out and back"),
   .meaning = N_("How late the loopback brought the feed, from the beginning of the recording on."), .flags = CW_FIELD_NULLABLE},
  {.key = "polarity", .type = CW_FIELD_CHOICE, .choices = take_polarities, .label = N_("Polarity"),
   .meaning = N_("Of the output, by all takes of it and of the other speaker of its pair."), .flags = CW_FIELD_NULLABLE},
  {.key = "polarity_confidence", .type = CW_FIELD_NUMBER, .least = 0, .most = 1, .label = N_("Confidence"),
   .meaning = N_("How sure the likelier polarity is: 0.5 is a guess, 1 is certain.")},
  {.key = "level_db_spl", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -100, .most = 250, .label = N_("Level"), .flags = CW_FIELD_NULLABLE},
  {.key = "snr_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -200, .most = 300, .label = N_("Above the noise"), .flags = CW_FIELD_NULLABLE},
  {.key = "response", .type = CW_FIELD_CURVE, .unit = "dB", .significant = 6, .label = N_("Response"), .flags = CW_FIELD_NULLABLE},
  {.key = "distortion", .type = CW_FIELD_ROWS, .unit = "%", .columns = 3, .significant = 6, .label = N_("Distortion"),
   .meaning = N_("Second and third harmonic against frequency."), .flags = CW_FIELD_NULLABLE},
  {.key = "rattle", .type = CW_FIELD_RECORD, .child = cw_rattle_get_type, .label = N_("Rattle"), .flags = CW_FIELD_NULLABLE},
  {.key = "disturbed", .type = CW_FIELD_BOOLEAN, .label = N_("Disturbed"), .meaning = N_("A bang or speech fell into it.")},
  {.key = "clipped", .type = CW_FIELD_BOOLEAN, .label = N_("Clipped")},
  {.key = "snr_bands", .type = CW_FIELD_CURVE, .unit = "dB", .significant = 6, .label = N_("Above the noise by band"), .flags = CW_FIELD_NULLABLE},
  {.key = "clock_ppm", .type = CW_FIELD_NUMBER, .unit = "ppm", .least = -10000, .most = 10000, .label = N_("Recorder's clock"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "rate_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 8000, .most = 768000, .initial = 48000, .label = N_("Sample rate")},
  {.key = "blob", .type = CW_FIELD_TEXT, .label = N_("Samples"), .meaning = N_("The name of the samples in the project file.")},
  {.key = "blob_start_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -10000, .most = 10000, .label = N_("Samples begin at"),
   .meaning = N_("When the first of the samples is, on the arrival's clock.")},
  {.key = "made_utc", .type = CW_FIELD_TEXT, .label = N_("When")},
  {.key = "edges", .type = CW_FIELD_ROWS, .columns = 3, .label = N_("Edges"),
   .meaning = N_("Where the first sound may be: time in ms, height, likelihood."), .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN},
  {.key = "edges_high_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 400000, .label = N_("Edges read up to"),
   .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN},
  {.key = "edges_noise", .type = CW_FIELD_NUMBER, .least = 0, .most = 1000000, .label = N_("Rest before the edge"), .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN},
  {.key = "onset", .type = CW_FIELD_NUMBERS, .label = N_("Onset"), .meaning = N_("The shape of the first sound."),
   .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN},
  {.key = "arrival_set_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = -10000, .most = 10000, .label = N_("Arrival set by hand"),
   .flags = CW_FIELD_NULLABLE},
  {.key = "feed", .type = CW_FIELD_RECORD, .child = cw_feed_get_type, .label = N_("Feed"),
   .meaning = N_("What was played."), .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN | CW_FIELD_SPARSE},
};
CW_DEFINE_KIND(CwTake, cw_take, TAKE, take_fields)

/* --- proof --- */

static const CwField proof_row_fields[] = {
  {.key = "subject", .type = CW_FIELD_TEXT, .label = N_("What"), .meaning = N_("An output, a side, or the whole car at a seat."),
   .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "agrees", .type = CW_FIELD_BOOLEAN, .label = N_("As predicted")},
  {.key = "rms_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 300, .label = N_("Differs by"), .flags = CW_FIELD_NULLABLE},
  {.key = "worst_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -300, .most = 300, .label = N_("At worst"), .flags = CW_FIELD_NULLABLE},
  {.key = "worst_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .label = N_("There"), .flags = CW_FIELD_NULLABLE},
  {.key = "predicted", .type = CW_FIELD_CURVE, .unit = "dB", .significant = 6, .label = N_("Predicted"), .flags = CW_FIELD_NULLABLE},
  {.key = "measured", .type = CW_FIELD_CURVE, .unit = "dB", .significant = 6, .label = N_("Measured"), .flags = CW_FIELD_NULLABLE},
  {.key = "spread", .type = CW_FIELD_CURVE, .unit = "dB", .significant = 6, .label = N_("Expected spread"), .flags = CW_FIELD_NULLABLE},
  {.key = "settings", .type = CW_FIELD_TEXT, .label = N_("Settings"), .meaning = N_("The beginning of the checksum of the table that was loaded."),
   .flags = CW_FIELD_HIDDEN},
};
CW_DEFINE_KIND(CwProofRow, cw_proof_row, PROOF_ROW, proof_row_fields)

static const CwField listening_check_fields[] = {
  {.key = "name", .type = CW_FIELD_TEXT, .label = N_("Check"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "passed", .type = CW_FIELD_BOOLEAN, .label = N_("Passed")},
  {.key = "note", .type = CW_FIELD_TEXT, .label = N_("Note")},
  {.key = "made_utc", .type = CW_FIELD_TEXT, .label = N_("When")},
};
CW_DEFINE_KIND(CwListeningCheck, cw_listening_check, LISTENING_CHECK, listening_check_fields)
/* clang-format on */
