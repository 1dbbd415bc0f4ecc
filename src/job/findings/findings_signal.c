/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/findings_trouble.h"
#include "job/findings/review.h"
#include "job/survey/survey_record.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define DELAYED_MS 0.1 /* 3 cm of sound: less is nobody's intention */
#define CANCELS_DB 3.0 /* lost where leads meet */
#define ALIKE_DB 0.3
#define ALIKE_MS 0.005
#define HUM_APART_DB 50.0 /* hum this close below the level is heard in quiet passages */
#define FLAT_DB 1.5       /* over 1/6 octave: what a correction is to reach */
#define BASS_REACH_HZ 60.0
#define TREBLE_REACH_HZ 12000.0

static CwRecord *add(CwRecord *vehicle, const char *code, CwSeverity severity, gint64 lead, char *text,
                     char *evidence, const char *advice)
{
  CwRecord *finding = cw_vehicle_add_finding(vehicle, code, severity, CW_STAGE_SIGNAL);

  if (lead > 0)
    cw_about_set_lead(cw_finding_make_about(finding), lead);
  cw_finding_set_text(finding, text);
  cw_finding_set_evidence(finding, evidence);
  cw_finding_set_advice(finding, advice);
  g_free(text);
  g_free(evidence);
  return finding;
}

/* That nothing is heard with the fader at one end is an answer too, if the track did play. */
static void find_silent_fader(CwRecord *vehicle, CwRecord *survey)
{
  if (cw_survey_has_silent_fader(survey))
    add(vehicle, "fader-silences-all", CW_SEVERITY_NOTE, 0,
        g_strdup(_("With the fader at one end the radio is silent.")),
        g_strdup_printf(_("In the take \"%s\" no track was heard, so the leads belong to the other end."),
                        cw_survey_get_silent_fader(survey) ? "rear" : "front"),
        _("If the track was not played in that take, record it again."));
}

static void find_seat(CwRecord *vehicle, CwRecord *survey)
{
  double ms = cw_survey_get_seat_delay_ms(survey);
  int side = cw_survey_get_seat_side(survey);

  if (isnan(ms))
    return;
  if (cw_survey_get_seat_active(survey))
    add(vehicle, "radio-seat-setting", CW_SEVERITY_ATTEND, 0,
        g_strdup(_("A seat setting is active in the radio: it delays one side.")),
        g_strdup_printf(side == CW_SIDE_LEFT ? _("The left leads come %.2f ms later than the right ones.")
                                             : _("The right leads come %.2f ms later than the left ones."),
                        fabs(ms)),
        _("Set the radio to all seats, or switch its sound field off, and record the leads again. If it "
          "cannot be switched off, the correction's delays make up for it."));
  else
    add(vehicle, "radio-seat-setting", CW_SEVERITY_NOTE, 0,
        g_strdup_printf(_("The radio's seat setting \"%s\" changes the leads' delays."),
                        cw_survey_get_other_seat_setting(survey)),
        g_strdup_printf(_("Against \"%s\", a lead's delay changes by %.2f ms."),
                        cw_survey_get_seat_setting(survey), ms),
        _("Leave the radio at the setting that delays nothing: the survey and its correction were made for "
          "it. Tell the customer."));
}

/* What must be switched off in the radio first. */
static void find_settings(CwRecord *vehicle, CwRecord *survey)
{
  double loudness_db = cw_survey_get_loudness_db(survey);

  find_seat(vehicle, survey);
  if (!isnan(loudness_db))
    add(vehicle, "radio-loudness", CW_SEVERITY_ATTEND, 0,
        g_strdup(_("The radio changes the bass with the volume.")),
        g_strdup_printf(_("Against the middle, the bass changes by %.1f dB between two volumes."),
                        loudness_db),
        _("Switch loudness off in the radio's menus and record again. If it cannot be switched off, survey "
          "and tune at the volume at which the customer listens."));
}

/* A delay that is not known, or not well. */
static void find_doubt(CwRecord *vehicle, CwRecord *lead)
{
  gint64 number = cw_lead_get_lead(lead);
  double doubt_ms = cw_job_delay_doubt_ms(lead);

  if (!cw_lead_has_delay_ms(lead))
    add(vehicle, "lead-delay-unknown", CW_SEVERITY_ATTEND, number,
        g_strdup_printf(_("The delay of lead %d could not be told."), (int)number),
        g_strdup(
            _("Its noise and the width of its band leave it open, or it was recorded without a lead that "
              "ties it to the others.")),
        _("Record it again with less noise, beside a lead of the other recordings. Until then the mix does "
          "without it."));
  else if (doubt_ms > 0)
    add(vehicle, "lead-delay-doubtful", CW_SEVERITY_NOTE, number,
        g_strdup_printf(_("The delay of lead %d is only roughly known."), (int)number),
        g_strdup_printf(_("Its noise and the width of its band leave it open by ±%.2f ms."), doubt_ms),
        _("It is good enough to add the lead up. For a closer figure record again with less noise: the "
          "interface's input turned up, and the cause of the noise looked for."));
}

static void find_lead(CwRecord *vehicle, CwRecord *lead)
{
  gint64 number = cw_lead_get_lead(lead);
  double delay_ms = cw_lead_get_delay_ms(lead), level = cw_lead_get_level_dbv(lead),
         hum = cw_lead_get_hum_dbv(lead);

  if (!cw_lead_has_level_dbv(lead) && cw_lead_has_noise_dbv(lead)) {
    add(vehicle, "lead-silent", CW_SEVERITY_ATTEND, number,
        g_strdup_printf(_("Lead %d carries nothing."), (int)number),
        g_strdup_printf(_("Nothing but noise of %.0f dBV was recorded from it."),
                        cw_lead_get_noise_dbv(lead)),
        _("Check the clip and the wire. If it really is silent, leave it out."));
    return;
  }
  if (cw_lead_get_polarity(lead) == CW_POLARITY_INVERTED)
    add(vehicle, "lead-inverted", CW_SEVERITY_NOTE, number,
        g_strdup_printf(_("Lead %d has the opposite polarity."), (int)number),
        g_strdup(_("Over its whole band its phase is half a turn off the track's.")),
        _("Check which of its two wires is plus. The correction uses the polarity in which the leads add "
          "up."));
  find_doubt(vehicle, lead);
  if (delay_ms > DELAYED_MS)
    add(vehicle, "lead-delayed", CW_SEVERITY_NOTE, number,
        g_strdup_printf(_("Lead %d is delayed."), (int)number),
        g_strdup_printf(_("It comes %.2f ms after the earliest lead."), delay_ms),
        _("Look for a sound field, seat or surround setting in the radio. What stays, the correction's "
          "delays make up for."));
  if (cw_lead_get_all_pass(lead))
    add(vehicle, "lead-all-pass", CW_SEVERITY_NOTE, number,
        g_strdup_printf(_("Lead %d has an all-pass filter."), (int)number),
        g_strdup_printf(_("Around %.0f Hz its phase turns by more than its response explains (Q %.1f)."),
                        cw_lead_get_all_pass_hz(lead), cw_lead_get_all_pass_q(lead)),
        _("Do not add it to leads without one. In the mix, the other leads get the same filter."));
  if (!isnan(hum) && !isnan(level) && hum > level - HUM_APART_DB)
    add(vehicle, "lead-hum", CW_SEVERITY_NOTE, number, g_strdup_printf(_("Lead %d hums."), (int)number),
        g_strdup_printf(_("Hum of %.0f dBV, %.0f dB below its level."), hum, level - hum),
        _("Feed radio and interface from the car's battery alone, unplug chargers, and check the ground."));
}

/* The greatest difference of two leads' responses where either is told within 20 dB of its top. */
static double response_apart_db(CwRecord *one, CwRecord *other)
{
  const CwNumbers *a = cw_lead_get_response(one), *b = cw_lead_get_response(other);
  double top = -INFINITY, apart = 0;

  if (!a || !b || a->n_rows != b->n_rows)
    return INFINITY;
  for (guint i = 0; i < a->n_rows; i++)
    top = fmax(top, cw_numbers_at(a, i, 1));
  for (guint i = 0; i < a->n_rows; i++) {
    double x = cw_numbers_at(a, i, 1), y = cw_numbers_at(b, i, 1);
    if (x > top - 20 || y > top - 20)
      apart = fmax(apart, isnan(x) || isnan(y) ? INFINITY : fabs(x - y));
  }
  return apart;
}

/* Leads of one side that carry the same, wired in parallel. */
static void find_alike(CwRecord *vehicle, CwList *leads)
{
  for (guint i = 0; i < cw_list_get_length(leads); i++)
    for (guint k = 0; k < i; k++) {
      CwRecord *lead = cw_list_get(leads, i), *other = cw_list_get(leads, k);
      double late = fabs(cw_lead_get_delay_ms(lead) - cw_lead_get_delay_ms(other));
      gboolean against = cw_lead_get_polarity(lead) != cw_lead_get_polarity(other);
      if (cw_lead_get_side(lead) != cw_lead_get_side(other) || !(late < ALIKE_MS) ||
          !(response_apart_db(other, lead) < ALIKE_DB))
        continue;
      add(vehicle, "leads-alike", against ? CW_SEVERITY_ATTEND : CW_SEVERITY_NOTE, cw_lead_get_lead(lead),
          g_strdup_printf(
              against ? _("Leads %d and %d carry the same, one of them reversed: two clips on one wire?")
                      : _("Leads %d and %d carry the same."),
              (int)cw_lead_get_lead(other), (int)cw_lead_get_lead(lead)),
          g_strdup_printf(_("Level and response agree within %.1f dB, arrival within %.0f µs."), ALIKE_DB,
                          1000 * ALIKE_MS),
          _("Use one of them; adding them gains nothing."));
    }
}

/* Sums that lose much, once for each reason. */
static void find_sums(CwRecord *vehicle, CwRecord *survey)
{
  CwList *sums = cw_survey_get_sums(survey);

  for (guint i = 0; i < cw_list_get_length(sums); i++) {
    CwRecord *sum = cw_list_get(sums, i);
    const CwNumbers *leads = cw_lead_sum_get_leads(sum);
    gboolean advised = cw_lead_sum_get_advised(sum);
    if (!(cw_lead_sum_get_loss_db(sum) > CANCELS_DB) || !leads || leads->n_rows < 2)
      continue;
    add(vehicle, "leads-cancel", CW_SEVERITY_NOTE, (gint64)cw_numbers_at(leads, leads->n_rows - 1, 0),
        g_strdup_printf(_("Leads %s do not add up as they come."), cw_lead_sum_get_name(sum)),
        g_strdup_printf("%s.", cw_lead_sum_get_why(sum)),
        advised ? _("Use the delay and polarity of the correction; never join these wires directly.")
                : _("Do not add these leads, and do not make one bass signal of them."));
  }
}

static void find_reach(CwRecord *vehicle, CwRecord *survey)
{
  CwRecord *correction = cw_survey_get_correction(survey);
  double low = correction ? cw_correction_get_low_hz(correction) : NAN,
         high = correction ? cw_correction_get_high_hz(correction) : NAN;

  if (low > BASS_REACH_HZ || high < TREBLE_REACH_HZ)
    add(vehicle, "signal-short", CW_SEVERITY_NOTE, 0, g_strdup(_("No sum of leads carries the whole band.")),
        g_strdup_printf(_("Without lifting more than 9 dB it reaches from %.0f to %.0f Hz."), low, high),
        low > BASS_REACH_HZ ? _("Check the radio's tone controls and bass filter, look for a lead that "
                                "carries the bass, or use another source.")
                            : _("Look for the tweeters' own leads and clip onto them as well."));
}

static void find_volts(CwRecord *vehicle, CwRecord *survey)
{
  if (cw_survey_get_volts_untold(survey))
    add(vehicle, "volts-untold", CW_SEVERITY_NOTE, 0, g_strdup(_("The leads' levels are not in volts yet.")),
        g_strdup(_("They are told as if a volt filled the recorder's input.")),
        _("Play the volts track, record it, and enter what the multimeter reads on that lead. Nothing else "
          "has to be recorded again."));
}

/* The most that filters and delays can do is not always enough. */
static void find_uneven(CwRecord *vehicle, CwRecord *survey)
{
  CwRecord *correction = cw_survey_get_correction(survey);
  double flat_db = correction ? cw_correction_get_flatness_db(correction) : NAN;

  if (!(flat_db > FLAT_DB))
    return;
  add(vehicle, "correction-uneven", CW_SEVERITY_NOTE, 0,
      g_strdup(_("The leads' mix cannot be made quite flat.")),
      g_strdup_printf(
          _("With the correction it stays within ±%.1f dB from %.0f to %.0f Hz, and is farthest off "
            "at %.0f Hz."),
          flat_db, cw_correction_get_low_hz(correction), cw_correction_get_high_hz(correction),
          cw_correction_get_worst_hz(correction)),
      _("Filters lift by 9 dB at most, and do not fill what leads cancel. Look in the radio's menus for an "
        "equaliser, a sound field or a crossover there, or leave out a lead; more filters of an input may "
        "help "
        "too. What is left, the tuning of the outputs has to mend."));
}

/* Inputs that the processor cannot delay by as much as the leads are apart, or as hands have set. */
static void find_short_delay(CwRecord *vehicle, CwRecord *survey)
{
  CwRecord *correction = cw_survey_get_correction(survey), *processor = cw_vehicle_get_processor(vehicle),
           *tune = cw_vehicle_get_tune(vehicle);
  double most_ms = processor ? cw_processor_get_delay_ms_most(processor) : NAN,
         wanted_ms = correction ? cw_correction_get_delay_wanted_ms(correction) : NAN;
  CwList *inputs = tune ? cw_tune_get_inputs(tune) : NULL;

  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++)
    wanted_ms = fmax(wanted_ms, cw_input_correction_get_delay_ms(cw_list_get(inputs, i)));
  if (!(wanted_ms > most_ms + 1e-6))
    return;
  add(vehicle, "processor-lacks", CW_SEVERITY_ATTEND, 0,
      g_strdup(_("The processor cannot delay its inputs enough.")),
      g_strdup_printf(
          _("The leads would add up with a delay of %.2f ms; the processor gives %.2f ms at most."),
          wanted_ms, most_ms),
      _("Look for a sound field, seat or surround setting in the radio that delays some leads, and switch it "
        "off. Else leave out the leads that come late, or use another processor."));
}

static void find_refused(CwRecord *vehicle, CwRecord *survey)
{
  const char *const *refused = cw_survey_get_refused(survey);

  for (guint i = 0; refused && refused[i]; i++)
    add(vehicle, "take-refused", CW_SEVERITY_ATTEND, 0,
        g_strdup(_("A recording of the factory signal was left out.")), g_strdup(refused[i]),
        _("Record it again as it says, then read the recordings again."));
}

/* A copy for the survey's own document. */
static void copy_to_survey(CwRecord *vehicle, CwRecord *survey)
{
  CwList *all = cw_vehicle_get_findings(vehicle), *own = cw_survey_get_findings(survey);

  cw_list_clear(own);
  for (guint i = 0; i < cw_list_get_length(all); i++)
    if (cw_finding_get_stage(cw_list_get(all, i)) == CW_STAGE_SIGNAL) {
      g_autoptr(CwRecord) copy = cw_record_copy(cw_list_get(all, i));
      cw_list_append(own, copy);
    }
}

void cw_job_find_signal(CwRecord *vehicle)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  CwList *leads = survey ? cw_survey_get_leads(survey) : NULL;

  cw_vehicle_clear_findings(vehicle, CW_STAGE_SIGNAL);
  if (!survey)
    return;
  find_refused(vehicle, survey);
  cw_job_find_troubles(vehicle, survey);
  find_volts(vehicle, survey);
  find_silent_fader(vehicle, survey);
  find_settings(vehicle, survey);
  for (guint i = 0; i < cw_list_get_length(leads); i++)
    find_lead(vehicle, cw_list_get(leads, i));
  find_alike(vehicle, leads);
  find_sums(vehicle, survey);
  find_reach(vehicle, survey);
  find_uneven(vehicle, survey);
  find_short_delay(vehicle, survey);
  copy_to_survey(vehicle, survey);
}
