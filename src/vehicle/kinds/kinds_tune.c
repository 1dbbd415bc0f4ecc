/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/filters/crossover.h"
#include "signal/filters/section.h"
#include "vehicle/kinds/kinds.h"

#include <glib/gi18n-lib.h>

/* clang-format off */
CW_CHOICES(CwRouteStage, CW_STAGE, cw_stages) = {
  {"sheet", N_("Vehicle sheet")},    {"supply", N_("Supply and wiring")}, {"signal", N_("Factory signal")},
  {"map", N_("Channel map")},        {"levels", N_("Levels")},            {"measuring", N_("Measuring")},
  {"tuning", N_("Tuning")},          {"proof", N_("Proof")},              {"hand-over", N_("Hand-over")},
  {NULL, NULL},
};

static CW_CHOICES(CwStageState, CW_STAGE, stage_states) = {
  {"untouched", N_("Untouched")}, {"begun", N_("Begun")}, {"to-settle", N_("Something to settle")}, {"done", N_("Done")}, {NULL, NULL}};
static CW_CHOICES(CwSeverity, CW_SEVERITY, severities) = {{"stop", N_("Stop")}, {"attend", N_("Attend")}, {"note", N_("Note")}, {NULL, NULL}};
static CW_CHOICES(CwFilterUse, CW_USE, uses) = {
  {"crossover", N_("Crossover")}, {"correction", N_("Correction")}, {"voicing", N_("Voicing")}, {NULL, NULL}};
static CW_CHOICES_OF(CwFilterFamily, families) = {
  [CW_FILTER_BUTTERWORTH] = {"butterworth", N_("Butterworth")},
  [CW_FILTER_LINKWITZ_RILEY] = {"linkwitz-riley", N_("Linkwitz-Riley")},
  [CW_FILTER_BESSEL] = {"bessel", N_("Bessel")},
  {NULL, NULL},
};
/* By CwSectionKind; a test compares the names with those of the signal room. */
static CW_CHOICES_OF(CwSectionKind, shapes) = {
  [CW_SECTION_LOW_PASS] = {"low-pass", N_("Low-pass")},
  [CW_SECTION_HIGH_PASS] = {"high-pass", N_("High-pass")},
  [CW_SECTION_PEAKING] = {"peaking", N_("Peaking")},
  [CW_SECTION_LOW_SHELF] = {"low-shelf", N_("Low shelf")},
  [CW_SECTION_HIGH_SHELF] = {"high-shelf", N_("High shelf")},
  [CW_SECTION_NOTCH] = {"notch", N_("Notch")},
  [CW_SECTION_ALL_PASS] = {"all-pass", N_("All-pass")},
  {NULL, NULL},
};
_Static_assert(G_N_ELEMENTS(shapes) == CW_SECTION_KINDS_OFFERED + 1, "every kind that is offered has a word");

/* One filter as the technician sees it: a crossover of order 4 is one, and two sections of second order in the table. */
static const CwField tune_section_fields[] = {
  {.key = "use", .type = CW_FIELD_CHOICE, .choices = uses, .initial = CW_USE_CORRECTION, .label = N_("Use"),
   .meaning = N_("What the filter is for.")},
  {.key = "kind", .type = CW_FIELD_CHOICE, .choices = shapes, .initial = CW_SECTION_PEAKING, .label = N_("Kind"),
   .meaning = N_("The filter's shape.")},
  {.key = "family", .type = CW_FIELD_CHOICE, .choices = families, .label = N_("Family"),
   .meaning = N_("The family of a crossover's filter."), .flags = CW_FIELD_NULLABLE},
  {.key = "order", .type = CW_FIELD_INTEGER, .least = 1, .most = 8, .initial = 2, .label = N_("Order"),
   .meaning = N_("Six decibels per octave each.")},
  {.key = "frequency_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 384000, .initial = 1000, .label = N_("Frequency"),
   .meaning = N_("The centre or corner frequency.")},
  {.key = "gain_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -60, .most = 60, .label = N_("Gain"),
   .meaning = N_("The gain of a peaking filter or a shelf.")},
  {.key = "q", .type = CW_FIELD_NUMBER, .least = 0.05, .most = 100, .initial = 0.7071067811865476, .label = N_("Q"),
   .meaning = N_("How narrow the filter is.")},
  {.key = "bypass", .type = CW_FIELD_BOOLEAN, .label = N_("Bypass"), .meaning = N_("The filter is there but does nothing.")},
  {.key = "held", .type = CW_FIELD_BOOLEAN, .label = N_("Locked"), .meaning = N_("A new proposal does not change this filter."),
   .flags = CW_FIELD_SPARSE},
  {.key = "why", .type = CW_FIELD_TEXT, .label = N_("Why"), .meaning = N_("Why the filter is there.")},
  {.key = "why_of", .type = CW_FIELD_TEXT, .label = N_("Values of the reason"),
   .meaning = N_("Kind, frequency, gain and Q for which the reason was said."), .flags = CW_FIELD_HIDDEN | CW_FIELD_SPARSE},
};
CW_DEFINE_KIND(CwTuneSection, cw_tune_section, TUNE_SECTION, tune_section_fields)

static const CwField mix_fields[] = {
  {.key = "left", .type = CW_FIELD_NUMBER, .least = -10, .most = 10, .label = N_("Left"), .meaning = N_("The part of the left side.")},
  {.key = "right", .type = CW_FIELD_NUMBER, .least = -10, .most = 10, .label = N_("Right"), .meaning = N_("The part of the right side.")},
};
CW_DEFINE_KIND(CwMix, cw_mix, MIX, mix_fields)

static const CwField input_correction_fields[] = {
  {.key = "input", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Input"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "lead", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Lead"), .flags = CW_FIELD_NULLABLE},
  {.key = "mix", .type = CW_FIELD_RECORD, .child = cw_mix_get_type, .label = N_("Mix")},
  {.key = "gain_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -200, .most = 60, .label = N_("Gain")},
  {.key = "polarity", .type = CW_FIELD_CHOICE, .choices = cw_polarities, .label = N_("Polarity")},
  {.key = "delay_samples", .type = CW_FIELD_NUMBER, .least = 0, .most = 1000000, .label = N_("Delay in samples")},
  {.key = "delay_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = 0, .most = 2000, .label = N_("Delay")},
  {.key = "sections", .type = CW_FIELD_RECORDS, .child = cw_tune_section_get_type, .label = N_("Sections")},
};
CW_DEFINE_KIND(CwInputCorrection, cw_input_correction, INPUT_CORRECTION, input_correction_fields)

static const CwField tune_output_fields[] = {
  {.key = "output", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Output"),
   .meaning = N_("The processor's output."), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "mix", .type = CW_FIELD_RECORD, .child = cw_mix_get_type, .label = N_("Mix"),
   .meaning = N_("How much of each side it plays.")},
  {.key = "gain_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -200, .most = 60, .label = N_("Gain"),
   .meaning = N_("The output's gain.")},
  {.key = "polarity", .type = CW_FIELD_CHOICE, .choices = cw_polarities, .label = N_("Polarity"),
   .meaning = N_("Whether the output is inverted.")},
  {.key = "delay_samples", .type = CW_FIELD_NUMBER, .least = 0, .most = 2000000, .label = N_("Delay in samples"),
   .meaning = N_("The delay at the processor's sample rate."), .flags = CW_FIELD_HIDDEN},
  {.key = "delay_ms", .type = CW_FIELD_NUMBER, .unit = "ms", .least = 0, .most = 2000, .label = N_("Delay"),
   .meaning = N_("The output's delay.")},
  {.key = "muted", .type = CW_FIELD_BOOLEAN, .label = N_("Muted"), .meaning = N_("Left out of the sum while looking at the others.")},
  {.key = "held", .type = CW_FIELD_TEXTS, .label = N_("Locked"),
   .meaning = N_("What a new proposal does not change: gain, delay, polarity, high-pass, low-pass, filters."),
   .flags = CW_FIELD_HIDDEN | CW_FIELD_SPARSE},
  {.key = "sections", .type = CW_FIELD_RECORDS, .child = cw_tune_section_get_type, .label = N_("Sections"),
   .meaning = N_("Its filters, in the order in which they run.")},
};
CW_DEFINE_KIND(CwTuneOutput, cw_tune_output, TUNE_OUTPUT, tune_output_fields)

/* A port is an input or an output of the processor. */
CW_COMMON_FIELDS(cw_port, (CwTuneOutput, CwInputCorrection), (mix, gain_db, polarity, delay_samples, delay_ms, sections))

static const CwField tune_hole_fields[] = {
  {.key = "side", .type = CW_FIELD_CHOICE, .choices = cw_sides, .label = N_("Side"), .meaning = N_("The side in whose sum the hole is left.")},
  {.key = "hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 1, .most = 100000, .initial = 1000, .label = N_("Frequency")},
  {.key = "depth_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 400, .label = N_("Depth"),
   .meaning = N_("How far it lies below what is around it.")},
  {.key = "output", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .initial = 1, .label = N_("Output"), .meaning = N_("The loudest output there.")},
  {.key = "between", .type = CW_FIELD_BOOLEAN, .label = N_("Between speakers"),
   .meaning = N_("Two speakers cancel each other; else it is the speaker's own.")},
};
CW_DEFINE_KIND(CwTuneHole, cw_tune_hole, TUNE_HOLE, tune_hole_fields)

static const CwField tune_seat_fields[] = {
  {.key = "seat", .type = CW_FIELD_TEXT, .label = N_("Seat"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "side_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 400, .label = N_("From the target"),
   .meaning = N_("How far each side is from the target there.")},
  {.key = "alone_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 400, .label = N_("For this seat alone"),
   .meaning = N_("How far it would be, were the tune for this seat alone."), .flags = CW_FIELD_NULLABLE},
};
CW_DEFINE_KIND(CwTuneSeat, cw_tune_seat, TUNE_SEAT, tune_seat_fields)

/* One of several tunes for the same car; the one in use stands in the tune itself. */
static const CwField tune_choice_fields[] = {
  {.key = "name", .type = CW_FIELD_TEXT, .label = N_("Name"), .meaning = N_("closest, simplest, steadiest, or previous."),
   .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "corrections", .type = CW_FIELD_INTEGER, .least = 0, .most = 4096, .label = N_("EQ filters"),
   .meaning = N_("Filters of all outputs, without crossovers.")},
  {.key = "side_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 400, .label = N_("From the target"),
   .meaning = N_("How far each side is from the target.")},
  {.key = "both_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 400, .label = N_("Both sides"),
   .meaning = N_("How far both sides together are from the target.")},
  {.key = "match_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 400, .label = N_("Left against right")},
  {.key = "loss_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -400, .most = 400, .label = N_("Lost in sums")},
  {.key = "places_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 400, .label = N_("At every position"),
   .meaning = N_("How far each side is from the target at every position for itself."), .flags = CW_FIELD_NULLABLE},
  {.key = "headroom_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = -400, .most = 400, .label = N_("Headroom"),
   .meaning = N_("How much louder or quieter the car plays at full scale than with the loudest of the tunes.")},
  {.key = "one_more_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0, .most = 400, .label = N_("One more filter"),
   .meaning = N_("What one more filter would gain."), .flags = CW_FIELD_NULLABLE},
  {.key = "outputs", .type = CW_FIELD_RECORDS, .child = cw_tune_output_get_type, .label = N_("Outputs"), .flags = CW_FIELD_HIDDEN},
};
CW_DEFINE_KIND(CwTuneChoice, cw_tune_choice, TUNE_CHOICE, tune_choice_fields)

static const CwField tune_fields[] = {
  {.key = "seat", .type = CW_FIELD_TEXT, .initial_text = "driver", .label = N_("Tuned for"),
   .meaning = N_("The seat that the tune is for, or all of them.")},
  {.key = "sample_rate_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 8000, .most = 768000, .label = N_("Sample rate"),
   .meaning = N_("The rate for which the tune was made."), .flags = CW_FIELD_NULLABLE},
  {.key = "outputs", .type = CW_FIELD_RECORDS, .child = cw_tune_output_get_type, .label = N_("Outputs"),
   .meaning = N_("The settings of every output.")},
  {.key = "inputs", .type = CW_FIELD_RECORDS, .child = cw_input_correction_get_type, .label = N_("Inputs"),
   .meaning = N_("The correction of the factory signal, input by input.")},
  {.key = "chosen", .type = CW_FIELD_TEXT, .label = N_("Chosen"), .meaning = N_("Which of the alternatives is in use."),
   .flags = CW_FIELD_HIDDEN | CW_FIELD_SPARSE},
  {.key = "alternatives", .type = CW_FIELD_RECORDS, .child = cw_tune_choice_get_type, .label = N_("Alternatives"),
   .meaning = N_("Other tunes for the same car."), .flags = CW_FIELD_HIDDEN | CW_FIELD_SPARSE},
  {.key = "voicing", .type = CW_FIELD_RECORDS, .child = cw_tune_section_get_type, .label = N_("Voicing"),
   .meaning = N_("Broad filters on every output alike.")},
  {.key = "figures", .type = CW_FIELD_NAMED, .label = N_("Figures"), .meaning = N_("What the prediction says of the tune."),
   .flags = CW_FIELD_HIDDEN | CW_FIELD_NULLABLE},
  {.key = "seats", .type = CW_FIELD_RECORDS, .child = cw_tune_seat_get_type, .label = N_("Seats"),
   .meaning = N_("What the tune gives every seat that it serves."), .flags = CW_FIELD_HIDDEN},
  {.key = "holes", .type = CW_FIELD_RECORDS, .child = cw_tune_hole_get_type, .label = N_("Holes"),
   .meaning = N_("What no filter can mend."), .flags = CW_FIELD_HIDDEN},
  {.key = "made_utc", .type = CW_FIELD_TEXT, .label = N_("When"), .flags = CW_FIELD_HIDDEN},
};
CW_DEFINE_KIND(CwTune, cw_tune, TUNE, tune_fields)

/* --- what was noticed --- */

static const CwField about_fields[] = {
  {.key = "output", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Output"), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "lead", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Lead"), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
};
CW_DEFINE_KIND(CwAbout, cw_about, ABOUT, about_fields)

static const CwField finding_fields[] = {
  {.key = "code", .type = CW_FIELD_TEXT, .label = N_("Code"), .flags = CW_FIELD_REQUIRED},
  {.key = "severity", .type = CW_FIELD_CHOICE, .choices = severities, .initial = CW_SEVERITY_NOTE, .label = N_("Severity")},
  {.key = "stage", .type = CW_FIELD_CHOICE, .choices = cw_stages, .label = N_("Stage")},
  {.key = "about", .type = CW_FIELD_RECORD, .child = cw_about_get_type, .label = N_("About")},
  {.key = "text", .type = CW_FIELD_TEXT, .label = N_("Finding")},
  {.key = "evidence", .type = CW_FIELD_TEXT, .label = N_("Evidence")},
  {.key = "advice", .type = CW_FIELD_TEXT, .label = N_("Advice")},
};
CW_DEFINE_KIND(CwFinding, cw_finding, FINDING, finding_fields)

static const CwField stage_fields[] = {
  {.key = "stage", .type = CW_FIELD_CHOICE, .choices = cw_stages, .label = N_("Stage"), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "state", .type = CW_FIELD_CHOICE, .choices = stage_states, .label = N_("State")},
  {.key = "missing", .type = CW_FIELD_TEXT, .label = N_("Missing"), .meaning = N_("A word on what is missing.")},
  {.key = "notes", .type = CW_FIELD_TEXT, .label = N_("Notes"), .meaning = N_("Your own notes on this stage.")},
};
CW_DEFINE_KIND(CwStage, cw_stage, STAGE, stage_fields)

/* clang-format on */
CwRecord *cw_vehicle_find_stage(CwRecord *vehicle, CwRouteStage stage)
{
  CwList *stages = cw_vehicle_get_stages(vehicle);
  for (guint i = 0; i < cw_list_get_length(stages); i++)
    if (cw_stage_get_stage(cw_list_get(stages, i)) == stage)
      return cw_list_get(stages, i);
  g_autoptr(CwRecord) record = cw_record_new(cw_stage_get_type());
  cw_stage_set_stage(record, stage);
  cw_list_append(stages, record);
  return cw_list_get(stages, cw_list_get_length(stages) - 1);
}

CwRecord *cw_vehicle_add_finding(CwRecord *vehicle, const char *code, CwSeverity severity, CwRouteStage stage)
{
  g_autoptr(CwRecord) finding = cw_record_new(cw_finding_get_type());
  CwList *findings = cw_vehicle_get_findings(vehicle);
  cw_finding_set_code(finding, code);
  cw_finding_set_severity(finding, severity);
  cw_finding_set_stage(finding, stage);
  cw_list_append(findings, finding);
  return cw_list_get(findings, cw_list_get_length(findings) - 1);
}

void cw_vehicle_clear_findings(CwRecord *vehicle, CwRouteStage stage)
{
  CwList *findings = cw_vehicle_get_findings(vehicle);
  for (guint i = cw_list_get_length(findings); i-- > 0;)
    if (cw_finding_get_stage(cw_list_get(findings, i)) == stage)
      cw_list_remove(findings, i);
}
