/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a tune rests on that is not known: time by distance alone, polarity that could not be told. */
#include "job/findings/findings_doubt.h"
#include "job/findings/review.h"
#include "job/takes/heard_car.h"
#include "job/takes/positions.h"
#include <glib/gi18n-lib.h>
#include <math.h>

/* Of an output's accepted takes, those whose arrival no sound tells. */
static guint count_untimed(CwRecord *vehicle, gint64 output, guint *all)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  guint untimed = 0;

  *all = 0;
  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_take_get_output(take) != output ||
        cw_job_find_take(vehicle, output, cw_take_get_position(take), CW_PURPOSE_TUNING) != take)
      continue;
    ++*all;
    untimed += cw_take_get_timing(take) == CW_TIMING_NONE || !cw_take_has_arrival_ms(take) ||
               cw_take_get_arrival_by(take) == CW_ARRIVAL_DISTANCE;
  }
  return untimed;
}

static void add_time(CwRecord *vehicle, CwRecord *speaker)
{
  guint all, untimed = count_untimed(vehicle, cw_speaker_get_output(speaker), &all);
  int output = (int)cw_speaker_get_output(speaker);

  if (all == 0 || 2 * untimed <= all)
    return;
  g_autofree char *text =
      g_strdup_printf(_("The time of %s (output %d) is not measured."), cw_speaker_get_name(speaker), output);
  g_autofree char *evidence = g_strdup_printf(
      _("In %u of %u takes no first sound could be told; its delay rests on the sheet's distance."), untimed,
      all);
  cw_job_add_finding(
      vehicle, "timing-unknown", CW_SEVERITY_ATTEND, CW_STAGE_TUNING, output, text, evidence,
      _("Record the takes with a loopback cable or markers, louder or in more quiet, or set the "
        "arrival by hand; then propose the tune again."));
}

static void add_polarity(CwRecord *vehicle, CwRecord *speaker, double inverted)
{
  int output = (int)cw_speaker_get_output(speaker);
  double certainty = fmax(inverted, 1 - inverted);

  if (certainty >= CW_POLARITY_NAMED)
    return;
  g_autofree char *text = g_strdup_printf(_("The polarity of %s (output %d) is not known."),
                                          cw_speaker_get_name(speaker), output);
  g_autofree char *evidence = g_strdup_printf(
      inverted > 0.5
          ? _("By its first sound it is inverted, %.0f %% sure. The tune chose the way in which it adds to "
              "the other speakers.")
          : _("By its first sound it is normal, %.0f %% sure. The tune chose the way in which it adds to the "
              "other speakers."),
      100 * certainty);
  cw_job_add_finding(vehicle, "polarity-unknown", CW_SEVERITY_ATTEND, CW_STAGE_TUNING, output, text, evidence,
                     _("Check it with a battery at the speaker wires, and listen to both sides together."));
}

/* A subwoofer's first sound cannot be told from what follows: the sum decides, and that is said where it
 * matters. */
static void add_sum(CwRecord *vehicle, CwRecord *speaker, CwRecord *tune_output)
{
  int output = (int)cw_speaker_get_output(speaker);

  if (cw_tune_output_get_polarity(tune_output) != CW_POLARITY_INVERTED)
    return;
  g_autofree char *text =
      g_strdup_printf(_("The tune inverts %s (output %d)."), cw_speaker_get_name(speaker), output);
  cw_job_add_finding(
      vehicle, "polarity-by-sum", CW_SEVERITY_NOTE, CW_STAGE_TUNING, output, text,
      _("That way it adds up better with the midbass over the range that both play. How it is wired "
        "cannot be told from its own first sound."),
      _("Nothing needs to be done. To check, compare both ways by ear at the crossover frequency."));
}

void cw_job_find_tuning_doubts(CwRecord *vehicle, CwRecord *tune)
{
  g_autoptr(CwHeardCar) car = cw_job_hear_car(vehicle);

  for (guint o = 0; o < car->outputs; o++) {
    CwRecord *output = cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT,
                                               cw_speaker_get_output(car->speaker[o]));
    gboolean sub = cw_speaker_get_way(car->speaker[o]) == CW_WAY_SUB;
    if (!output || cw_tune_output_get_muted(output))
      continue;
    if (!sub) /* a subwoofer's time is the fit's to find */
      add_time(vehicle, car->speaker[o]);
    if (sub)
      add_sum(vehicle, car->speaker[o], output);
    else if (car->heard[o])
      add_polarity(vehicle, car->speaker[o], car->verdict[o].inverted);
  }
}
