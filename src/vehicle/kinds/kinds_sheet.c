/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/cable.h"
#include "vehicle/kinds/kinds.h"

#include <glib/gi18n-lib.h>

/* clang-format off */
static CW_CHOICES(CwDriverSide, CW_DRIVER_SIDE, driver_sides) = {{"left", N_("Left")}, {"right", N_("Right")}, {NULL, NULL}};

static CW_CHOICES(CwWay, CW_WAY, ways) = {
  {"high", N_("High")}, {"mid", N_("Mid")}, {"low", N_("Low")}, {"full", N_("Full range")}, {"sub", N_("Bass")}, {NULL, NULL},
};

static CW_CHOICES(CwSpeakerRole, CW_ROLE, roles) = {
  {"as-placed", N_("By its way and place")}, {"front-stage", N_("Front stage")}, {"fill", N_("Fill")},
  {"second-row", N_("Second row")}, {"off", N_("Off")}, {NULL, NULL},
};

static CW_CHOICES_OF(CwMaterial, materials) = {
  [CW_COPPER] = {"copper", N_("Copper")},
  [CW_COPPER_CLAD_ALUMINIUM] = {"copper-clad-aluminium", N_("Copper-clad aluminium")},
  [CW_ALUMINIUM] = {"aluminium", N_("Aluminium")},
  {NULL, NULL},
};

static CW_CHOICES(CwWiring, CW_WIRING, wirings) = {{"parallel", N_("In parallel")}, {"series", N_("In series")}, {NULL, NULL}};

#define PLACE_FIELDS \
  {.key = "x_cm", .type = CW_FIELD_NUMBER, .unit = "cm", .least = -100, .most = 1500, .label = N_("Rearwards"), \
   .meaning = N_("How far behind the windscreen's foot."), .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN}, \
  {.key = "y_cm", .type = CW_FIELD_NUMBER, .unit = "cm", .least = -100, .most = 500, .label = N_("To the right"), \
   .meaning = N_("How far to the right of the cabin's left wall."), .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN}, \
  {.key = "z_cm", .type = CW_FIELD_NUMBER, .unit = "cm", .least = -100, .most = 400, .label = N_("Above the floor"), \
   .meaning = N_("How far above the floor."), .flags = CW_FIELD_NULLABLE | CW_FIELD_HIDDEN}

static const CwField speaker_fields[] = {
  {.key = "output", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Output"),
   .meaning = N_("The processor's output that feeds this speaker."), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  {.key = "name", .type = CW_FIELD_TEXT, .label = N_("Name"), .meaning = N_("What you call this speaker.")},
  {.key = "way", .type = CW_FIELD_CHOICE, .choices = ways, .initial = CW_WAY_FULL, .label = N_("Way"),
   .meaning = N_("The part of the sound that this speaker plays.")},
  {.key = "side", .type = CW_FIELD_CHOICE, .choices = cw_sides, .initial = CW_SIDE_BOTH, .label = N_("Side"),
   .meaning = N_("The side of the cabin that this speaker plays for.")},
  {.key = "role", .type = CW_FIELD_CHOICE, .choices = roles, .initial = CW_ROLE_AS_PLACED, .label = N_("Role"),
   .meaning = N_("Front stage; fill: quieter, later and without treble; second row: quieter than the front; or off."),
   .flags = CW_FIELD_SPARSE},
  {.key = "lowest_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 10, .most = 20000, .label = N_("Lowest safe frequency"),
   .meaning = N_("Nothing below this is sent to the speaker at level."), .flags = CW_FIELD_NULLABLE},
  {.key = "fs_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 5, .most = 20000, .label = N_("Resonance"),
   .meaning = N_("The speaker's resonance in free air, from its data sheet."), .flags = CW_FIELD_NULLABLE},
  {.key = "nominal_ohm", .type = CW_FIELD_NUMBER, .unit = "Ω", .least = 0.25, .most = 64, .initial = 4,
   .label = N_("Nominal impedance"), .meaning = N_("The speaker's nominal impedance.")},
  {.key = "rated_w", .type = CW_FIELD_NUMBER, .unit = "W", .least = 1, .most = 10000, .label = N_("Rated power"),
   .meaning = N_("The power that the speaker bears for long."), .flags = CW_FIELD_NULLABLE},
  {.key = "total_q", .type = CW_FIELD_NUMBER, .least = 0.05, .most = 5, .label = N_("Total Q (Qts)"),
   .meaning = N_("From the data sheet; with the next three it tells the cone's travel."), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "compliance_l", .type = CW_FIELD_NUMBER, .unit = "l", .least = 0.001, .most = 2000, .label = N_("Compliance volume (Vas)"),
   .meaning = N_("The volume of air that is as soft as the speaker's suspension."), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "cone_cm2", .type = CW_FIELD_NUMBER, .unit = "cm²", .least = 0.5, .most = 5000, .label = N_("Cone area (Sd)"),
   .meaning = N_("The area of the cone that moves air."), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "travel_mm", .type = CW_FIELD_NUMBER, .unit = "mm", .least = 0.05, .most = 100, .label = N_("Travel, one way (Xmax)"),
   .meaning = N_("How far the cone moves to one side before it distorts."), .flags = CW_FIELD_NULLABLE | CW_FIELD_SPARSE},
  {.key = "distance_cm", .type = CW_FIELD_NAMED, .unit = "cm", .least = 1, .most = 1500, .label = N_("Distance"),
   .meaning = N_("From the speaker to the head at each seat, by tape measure.")},
  PLACE_FIELDS,
};
CW_DEFINE_KIND(CwSpeaker, cw_speaker, SPEAKER, speaker_fields)

/* Where the microphone points decides which of its curves holds: its tip at the speaker, or up so that all directions are alike. */
static CW_CHOICES(CwIncidence, CW_INCIDENCE, incidences) = {{"0", N_("At the speaker (0°)")}, {"90", N_("Up (90°)")}, {NULL, NULL}};

static const CwField microphone_fields[] = {
  {.key = "name", .type = CW_FIELD_TEXT, .label = N_("Microphone"), .meaning = N_("Which microphone this is.")},
  {.key = "calibration", .type = CW_FIELD_CURVE, .unit = "dB", .least = -60, .most = 60, .label = N_("Calibration"),
   .meaning = N_("The microphone's own response; it is taken off what was recorded.")},
  {.key = "calibration_90", .type = CW_FIELD_CURVE, .unit = "dB", .least = -60, .most = 60, .label = N_("Calibration, 90°"),
   .meaning = N_("The same for sound from the side of the microphone, if it came with such a curve."), .flags = CW_FIELD_NULLABLE},
  {.key = "incidence", .type = CW_FIELD_CHOICE, .choices = incidences, .label = N_("It points"),
   .meaning = N_("Whether the microphone points at the speakers or up; it decides which of its curves is used.")},
  {.key = "spl_at_full_scale", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 60, .most = 200,
   .label = N_("Level at full scale"), .meaning = N_("The sound pressure level that just fills the recorder."),
   .flags = CW_FIELD_NULLABLE},
};
CW_DEFINE_KIND(CwMicrophone, cw_microphone, MICROPHONE, microphone_fields)

static const CwField supply_fields[] = {
  {.key = "running_v", .type = CW_FIELD_NUMBER, .unit = "V", .least = 9, .most = 60, .initial = 13.8,
   .label = N_("Voltage, engine running"), .meaning = N_("At the battery, with the engine running.")},
  {.key = "alternator_a", .type = CW_FIELD_NUMBER, .unit = "A", .least = 5, .most = 2000, .label = N_("Alternator"),
   .meaning = N_("The current that the alternator can give."), .flags = CW_FIELD_NULLABLE},
};
CW_DEFINE_KIND(CwSupply, cw_supply, SUPPLY, supply_fields)

static const CwField cable_fields[] = {
  {.key = "length_m", .type = CW_FIELD_NUMBER, .unit = "m", .least = 0.1, .most = 30, .initial = 5, .label = N_("Cable length"),
   .meaning = N_("From the battery to the amplifier, one way.")},
  {.key = "size_mm2", .type = CW_FIELD_NUMBER, .unit = "mm²", .least = 0.2, .most = 240, .label = N_("Cable size"),
   .meaning = N_("The cross-section that is fitted; empty if none is yet."), .flags = CW_FIELD_NULLABLE},
  {.key = "material", .type = CW_FIELD_CHOICE, .choices = materials, .label = N_("Material"),
   .meaning = N_("What the cable's strands are made of.")},
  {.key = "fuse_a", .type = CW_FIELD_NUMBER, .unit = "A", .least = 0.5, .most = 1000, .label = N_("Fuse"),
   .meaning = N_("The fuse that is fitted at the battery; empty if none is yet."), .flags = CW_FIELD_NULLABLE},
};
CW_DEFINE_KIND(CwCable, cw_cable, CABLE, cable_fields)

static const CwField amplifier_channel_fields[] = {
  {.key = "channel", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Channel"),
   .meaning = N_("The amplifier's channel, by its marking."), .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY | CW_FIELD_FILLED},
  {.key = "bridged_with", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Bridged with"),
   .meaning = N_("The other channel of a bridged pair."), .flags = CW_FIELD_NULLABLE},
  {.key = "rated_w", .type = CW_FIELD_NUMBER, .unit = "W", .least = 0.1, .most = 10000, .initial = 50, .label = N_("Rated power"),
   .meaning = N_("Per channel, or per bridged pair, into the rated load.")},
  {.key = "rated_ohm", .type = CW_FIELD_NUMBER, .unit = "Ω", .least = 0.25, .most = 64, .initial = 4, .label = N_("Rated load"),
   .meaning = N_("The load at which the power is rated.")},
  {.key = "least_ohm", .type = CW_FIELD_NUMBER, .unit = "Ω", .least = 0.1, .most = 64, .initial = 2, .label = N_("Least load"),
   .meaning = N_("The lowest load that the channel or the pair may drive.")},
  {.key = "outputs", .type = CW_FIELD_NUMBERS, .least = 1, .most = 64, .label = N_("Outputs"),
   .meaning = N_("The processor's outputs whose speakers hang on this channel."), .flags = CW_FIELD_WHOLE},
  {.key = "wiring", .type = CW_FIELD_CHOICE, .choices = wirings, .label = N_("Wiring"),
   .meaning = N_("How several speakers on this channel are joined.")},
};
CW_DEFINE_KIND(CwAmplifierChannel, cw_amplifier_channel, AMPLIFIER_CHANNEL, amplifier_channel_fields)

static const CwField amplifier_fields[] = {
  {.key = "name", .type = CW_FIELD_TEXT, .initial_text = N_("Amplifier"), .label = N_("Name"), .meaning = N_("What you call this amplifier."),
   .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY | CW_FIELD_FILLED},
  {.key = "efficiency", .type = CW_FIELD_NUMBER, .least = 0.1, .most = 1, .initial = 0.8, .label = N_("Efficiency"),
   .meaning = N_("Power out by power in, at rated power.")},
  {.key = "cable", .type = CW_FIELD_RECORD, .child = cw_cable_get_type, .label = N_("Supply cable"),
   .meaning = N_("The cable from the battery to this amplifier.")},
  {.key = "channels", .type = CW_FIELD_RECORDS, .child = cw_amplifier_channel_get_type, .label = N_("Channels"),
   .meaning = N_("The channels in use.")},
};
CW_DEFINE_KIND(CwAmplifier, cw_amplifier, AMPLIFIER, amplifier_fields)

static const CwField processor_fields[] = {
  {.key = "name", .type = CW_FIELD_TEXT, .label = N_("Processor"), .meaning = N_("Which processor this is.")},
  {.key = "sample_rate_hz", .type = CW_FIELD_NUMBER, .unit = "Hz", .least = 8000, .most = 768000, .initial = 48000,
   .label = N_("Sample rate"), .meaning = N_("The rate at which its filters run.")},
  {.key = "sections_per_output", .type = CW_FIELD_INTEGER, .least = 0, .most = 64, .initial = 10,
   .label = N_("Sections per output"), .meaning = N_("Filters for correction; crossovers come on top.")},
  {.key = "sections_per_input", .type = CW_FIELD_INTEGER, .least = 0, .most = 64, .label = N_("Sections per input"),
   .meaning = N_("Filters of an input, for the factory signal; empty if as many as of an output, 0 for no equaliser there."),
   .flags = CW_FIELD_NULLABLE},
  {.key = "input_delay", .type = CW_FIELD_BOOLEAN, .initial = 1, .label = N_("Delay of inputs"),
   .meaning = N_("Its inputs can be delayed one by one.")},
  {.key = "gain_db", .type = CW_FIELD_NUMBERS, .unit = "dB", .least = -200, .most = 60, .initial_text = "[-60,12]", .columns = 2,
   .label = N_("Output gain"), .meaning = N_("Least and most gain of an output."), .flags = CW_FIELD_RISES},
  {.key = "section_gain_db", .type = CW_FIELD_NUMBERS, .unit = "dB", .least = -60, .most = 60, .initial_text = "[-15,6]",
   .columns = 2, .label = N_("Section gain"), .meaning = N_("Least and most gain of a filter."), .flags = CW_FIELD_RISES},
  {.key = "q", .type = CW_FIELD_NUMBERS, .least = 0.05, .most = 100, .initial_text = "[0.4,10]", .columns = 2, .label = N_("Q"),
   .meaning = N_("Least and most Q of a filter."), .flags = CW_FIELD_RISES},
  {.key = "delay_ms_most", .type = CW_FIELD_NUMBER, .unit = "ms", .least = 0, .most = 2000, .initial = 20,
   .label = N_("Longest delay"), .meaning = N_("The most that an output can be delayed.")},
  {.key = "delay_step_samples", .type = CW_FIELD_NUMBER, .least = 0.001, .most = 4096, .initial = 1, .label = N_("Delay step"),
   .meaning = N_("The step of the delay, in samples.")},
  {.key = "frequency_steps_per_octave", .type = CW_FIELD_NUMBER, .least = 1, .most = 1000, .label = N_("Frequency steps per octave"),
   .meaning = N_("Empty if any frequency can be set."), .flags = CW_FIELD_NULLABLE},
  {.key = "gain_step_db", .type = CW_FIELD_NUMBER, .unit = "dB", .least = 0.001, .most = 12, .label = N_("Gain step"),
   .meaning = N_("Empty if any gain can be set."), .flags = CW_FIELD_NULLABLE},
  {.key = "q_step", .type = CW_FIELD_NUMBER, .least = 0.0001, .most = 10, .label = N_("Q step"),
   .meaning = N_("Empty if any Q can be set."), .flags = CW_FIELD_NULLABLE},
  {.key = "outputs", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .label = N_("Outputs"),
   .meaning = N_("How many outputs it has; empty if that does not matter."), .flags = CW_FIELD_NULLABLE},
  {.key = "crossover_order_most", .type = CW_FIELD_INTEGER, .least = 0, .most = 8, .initial = 8, .label = N_("Steepest crossover"),
   .meaning = N_("The highest order of its crossovers; six decibels per octave each.")},
  {.key = "crossover_families", .type = CW_FIELD_TEXTS, .initial_text = "butterworth,linkwitz-riley,bessel",
   .label = N_("Crossover families"), .meaning = N_("The families of crossover that it knows.")},
  {.key = "shelves", .type = CW_FIELD_BOOLEAN, .initial = 1, .label = N_("Shelves"), .meaning = N_("It has low and high shelves.")},
  {.key = "all_pass", .type = CW_FIELD_BOOLEAN, .initial = 1, .label = N_("All-pass"), .meaning = N_("It has all-pass filters.")},
};
CW_DEFINE_KIND(CwProcessor, cw_processor, PROCESSOR, processor_fields)

static const CwField cabin_fields[] = {
  {.key = "length_cm", .type = CW_FIELD_NUMBER, .unit = "cm", .least = 80, .most = 1500, .initial = 280, .label = N_("Cabin length"),
   .meaning = N_("From the windscreen's foot to the tailgate.")},
  {.key = "width_cm", .type = CW_FIELD_NUMBER, .unit = "cm", .least = 80, .most = 300, .initial = 146, .label = N_("Cabin width"),
   .meaning = N_("Between the doors.")},
  {.key = "height_cm", .type = CW_FIELD_NUMBER, .unit = "cm", .least = 60, .most = 300, .initial = 117, .label = N_("Cabin height"),
   .meaning = N_("From the floor to the roof.")},
};
CW_DEFINE_KIND(CwCabin, cw_cabin, CABIN, cabin_fields)

static const CwField head_fields[] = {
  {.key = "seat", .type = CW_FIELD_TEXT, .label = N_("Seat"), .meaning = N_("Whose head this is."),
   .flags = CW_FIELD_REQUIRED | CW_FIELD_IDENTITY},
  PLACE_FIELDS,
};
CW_DEFINE_KIND(CwHead, cw_head, HEAD, head_fields)

/* What has a place in the cabin. */
CW_COMMON_FIELDS(cw_placed, (CwSpeaker, CwHead), (x_cm, y_cm, z_cm))

/* clang-format on */
static gboolean refuse(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);

static gboolean refuse(GError **error, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  g_set_error_literal(error, CW_RECORD_ERROR, CW_RECORD_ERROR_REFERENCE, what);
  return FALSE;
}

static gboolean check_seats(CwRecord *vehicle, GError **error)
{
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  for (guint i = 0; seats[i]; i++) {
    if (!*seats[i] || strchr(seats[i], '/'))
      return refuse(error, "seats[%u]: a seat's name must not be empty or hold a slash", i);
    for (const char *c = seats[i]; *c; c++)
      if (g_ascii_iscntrl(*c))
        return refuse(error, "seats[%u]: a seat's name must not hold a line break or another control", i);
    for (guint k = 0; k < i; k++)
      if (g_str_equal(seats[i], seats[k]))
        return refuse(error, "seats[%u]: %s is already used by seats[%u]", i, seats[i], k);
  }
  return seats[0] ? TRUE : refuse(error, "seats: at least one seat is needed");
}

/* A channel drives speakers that are there, and a bridged pair is two channels of which one is listed. */
static gboolean check_channel(CwRecord *vehicle, CwRecord *amplifier, guint a, guint c, GError **error)
{
  CwList *channels = cw_amplifier_get_channels(amplifier);
  CwRecord *channel = cw_list_get(channels, c);
  const CwNumbers *outputs = cw_amplifier_channel_get_outputs(channel);
  gint64 bridged = cw_amplifier_channel_get_bridged_with(channel);
  for (guint i = 0; i < outputs->n_rows; i++)
    if (!cw_vehicle_find_speaker(vehicle, (gint64)outputs->values[i]))
      return refuse(error, "amplifiers[%u].channels[%u].outputs[%u]: no speaker is on output %d", a, c, i,
                    (int)outputs->values[i]);
  if (bridged == CW_NO_INTEGER)
    return TRUE;
  if (bridged == cw_amplifier_channel_get_channel(channel))
    return refuse(error, "amplifiers[%u].channels[%u].bridged_with: %d is the channel itself", a, c,
                  (int)bridged);
  CwRecord *other = cw_list_find_integer_at(channels, CW_AMPLIFIER_CHANNEL_FIELD_CHANNEL, bridged);
  if (other && cw_amplifier_channel_has_outputs(other))
    return refuse(error, "amplifiers[%u].channels[%u].bridged_with: channel %d has outputs of its own", a, c,
                  (int)bridged);
  return TRUE;
}

static gboolean check_vehicle(CwRecord *vehicle, GError **error)
{
  CwList *amplifiers = cw_vehicle_get_amplifiers(vehicle);
  if (!check_seats(vehicle, error))
    return FALSE;
  for (guint a = 0; a < cw_list_get_length(amplifiers); a++) {
    CwRecord *amplifier = cw_list_get(amplifiers, a);
    for (guint c = 0; c < cw_list_get_length(cw_amplifier_get_channels(amplifier)); c++)
      if (!check_channel(vehicle, amplifier, a, c, error))
        return FALSE;
  }
  return TRUE;
}

/* clang-format off */
static const CwField vehicle_fields[] = {
  {.key = "reference", .type = CW_FIELD_TEXT, .label = N_("Reference"), .meaning = N_("The job's number in your books."),
   .flags = CW_FIELD_REQUIRED},
  {.key = "description", .type = CW_FIELD_TEXT, .label = N_("Description"), .meaning = N_("The vehicle, in a few words.")},
  {.key = "driver_side", .type = CW_FIELD_CHOICE, .choices = driver_sides, .label = N_("Driver's side"),
   .meaning = N_("The side on which the steering wheel is.")},
  {.key = "seats", .type = CW_FIELD_TEXTS, .initial_text = "driver,passenger", .label = N_("Seats"),
   .meaning = N_("The seats that matter, the most important first.")},
  {.key = "positions_per_seat", .type = CW_FIELD_INTEGER, .least = 1, .most = 64, .initial = 6, .label = N_("Positions per seat"),
   .meaning = N_("Places around each head at which is measured.")},
  {.key = "temperature_c", .type = CW_FIELD_NUMBER, .unit = "°C", .least = -40, .most = 70, .initial = 20, .label = N_("Air temperature"),
   .meaning = N_("In the cabin while it is measured: the speed of sound follows from it.")},
  {.key = "target", .type = CW_FIELD_CURVE, .unit = "dB", .least = -60, .most = 60,
   .initial_text = "[[20,6],[60,6],[120,3],[250,0],[1000,0],[4000,-1],[10000,-3],[20000,-5]]", .label = N_("Target"),
   .meaning = N_("The response that the car is tuned to.")},
  {.key = "speakers", .type = CW_FIELD_RECORDS, .child = cw_speaker_get_type, .label = N_("Speakers"),
   .meaning = N_("Every speaker, one for each output."), .flags = CW_FIELD_REQUIRED},
  {.key = "microphone", .type = CW_FIELD_RECORD, .child = cw_microphone_get_type, .label = N_("Microphone"),
   .meaning = N_("The measurement microphone.")},
  {.key = "supply", .type = CW_FIELD_RECORD, .child = cw_supply_get_type, .label = N_("Supply"),
   .meaning = N_("Battery and alternator.")},
  {.key = "amplifiers", .type = CW_FIELD_RECORDS, .child = cw_amplifier_get_type, .label = N_("Amplifiers"),
   .meaning = N_("Every amplifier.")},
  {.key = "processor", .type = CW_FIELD_RECORD, .child = cw_processor_get_type, .label = N_("Processor"),
   .meaning = N_("What the processor's filters, delays and gains can do.")},
  {.key = "cabin", .type = CW_FIELD_RECORD, .child = cw_cabin_get_type, .label = N_("Cabin"), .meaning = N_("The cabin's measures."),
   .flags = CW_FIELD_HIDDEN},
  {.key = "heads", .type = CW_FIELD_RECORDS, .child = cw_head_get_type, .label = N_("Heads"), .meaning = N_("Where the heads are."),
   .flags = CW_FIELD_HIDDEN},
  {.key = "stages", .type = CW_FIELD_RECORDS, .child = cw_stage_get_type, .flags = CW_FIELD_HIDDEN},
  {.key = "volts_reading", .type = CW_FIELD_RECORD, .child = cw_volts_reading_get_type,
   .flags = CW_FIELD_HIDDEN | CW_FIELD_NULLABLE},
  {.key = "survey", .type = CW_FIELD_RECORD, .child = cw_survey_get_type, .flags = CW_FIELD_HIDDEN | CW_FIELD_NULLABLE},
  {.key = "map_proofs", .type = CW_FIELD_RECORDS, .child = cw_map_proof_get_type, .flags = CW_FIELD_HIDDEN},
  {.key = "levels", .type = CW_FIELD_RECORD, .child = cw_levels_get_type, .flags = CW_FIELD_HIDDEN},
  {.key = "feeds", .type = CW_FIELD_RECORDS, .child = cw_feed_get_type, .flags = CW_FIELD_HIDDEN},
  {.key = "takes", .type = CW_FIELD_RECORDS, .child = cw_take_get_type, .flags = CW_FIELD_HIDDEN},
  {.key = "tune", .type = CW_FIELD_RECORD, .child = cw_tune_get_type, .flags = CW_FIELD_HIDDEN},
  {.key = "proof", .type = CW_FIELD_RECORDS, .child = cw_proof_row_get_type, .flags = CW_FIELD_HIDDEN},
  {.key = "listening", .type = CW_FIELD_RECORDS, .child = cw_listening_check_get_type, .flags = CW_FIELD_HIDDEN},
  {.key = "findings", .type = CW_FIELD_RECORDS, .child = cw_finding_get_type, .flags = CW_FIELD_HIDDEN},
};
CW_DEFINE_CHECKED_KIND(CwVehicle, cw_vehicle, VEHICLE, vehicle_fields, check_vehicle)

/* clang-format on */
CwRecord *cw_vehicle_find_speaker(CwRecord *vehicle, gint64 output)
{
  return cw_list_find_integer_at(cw_vehicle_get_speakers(vehicle), CW_SPEAKER_FIELD_OUTPUT, output);
}
