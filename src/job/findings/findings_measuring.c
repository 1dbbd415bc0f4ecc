/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/findings_identity.h"
#include "job/findings/review.h"
#include "job/takes/clean_band.h"
#include "job/takes/feeds.h"
#include "job/takes/first_sounds.h"
#include "job/takes/heard_car.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define RATTLE_APART (1.0 / 3) /* octaves within which two takes speak of the same rattle */

/* What all accepted takes of one output say together. */
typedef struct {
  guint accepted, refused, rattles;
  double rattle_hz, rattle_db;
} Heard;

static gboolean near(double one_hz, double other_hz)
{
  return fabs(log2(one_hz / other_hz)) < RATTLE_APART;
}

/* The most takes that agree on one rattle, and its frequency. */
static void count_rattles(CwList *takes, gint64 output, Heard *heard)
{
  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *one = cw_list_get(takes, i), *rattle = cw_take_get_rattle(one);
    guint agree = 0;
    double hz = rattle ? cw_rattle_get_hz(rattle) : NAN, loudest = -INFINITY, sum = 0;
    if (!rattle || cw_take_get_output(one) != output || !cw_take_get_accepted(one))
      continue;
    for (guint k = 0; k < cw_list_get_length(takes); k++) {
      CwRecord *other = cw_list_get(takes, k), *also = cw_take_get_rattle(other);
      if (!also || cw_take_get_output(other) != output || !cw_take_get_accepted(other) ||
          !near(cw_rattle_get_hz(also), hz))
        continue;
      agree++;
      sum += log(cw_rattle_get_hz(also));
      loudest = fmax(loudest, cw_rattle_get_db(also));
    }
    if (agree > heard->rattles) {
      heard->rattles = agree;
      heard->rattle_hz = exp(sum / agree);
      heard->rattle_db = loudest;
    }
  }
}

static Heard listen_to(CwRecord *vehicle, gint64 output)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  Heard heard = {0};

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_take_get_output(take) != output)
      continue;
    if (!cw_take_get_accepted(take)) {
      heard.refused++;
      continue;
    }
    heard.accepted++;
  }
  count_rattles(takes, output, &heard);
  return heard;
}

static void add_refused(CwRecord *vehicle)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    gboolean later = FALSE; /* taken again since: nothing to settle */
    if (cw_take_get_accepted(take))
      continue;
    for (guint k = i + 1; k < cw_list_get_length(takes); k++) {
      CwRecord *other = cw_list_get(takes, k);
      later |= cw_take_get_output(other) == cw_take_get_output(take) &&
               g_str_equal(cw_take_get_position(other), cw_take_get_position(take));
    }
    if (later)
      continue;
    g_autofree char *text = g_strdup_printf(_("The take of output %d at %s was refused."),
                                            (int)cw_take_get_output(take), cw_take_get_position(take));
    g_autofree char *evidence = g_strjoinv("; ", (char **)cw_take_get_reasons(take));
    cw_job_add_finding(vehicle, "take-refused", CW_SEVERITY_ATTEND, CW_STAGE_MEASURING,
                       cw_take_get_output(take), text, evidence, _("Mend the cause and take it again."));
  }
}

static void add_distorting(CwRecord *vehicle, CwRecord *speaker)
{
  gint64 output = cw_speaker_get_output(speaker);
  double lowest_hz = cw_job_lowest_hz(speaker);
  CwCleanRange range = cw_job_clean_range(vehicle, output, lowest_hz);

  if (range.from_hz <= lowest_hz)
    return;
  g_autofree char *text = g_strdup_printf(_("%s (output %d) distorts at the low end of its range."),
                                          cw_speaker_get_name(speaker), (int)output);
  g_autofree char *evidence = g_strdup_printf(_("Second and third harmonic reach %.1f %% at %.0f Hz at the "
                                                "level it was measured at. In the octave above "
                                                "its lowest frequency they exceed 3 %% up to %.0f Hz."),
                                              range.worst_percent, range.worst_hz, range.from_hz);
  cw_job_add_finding(vehicle, "distorts-low", CW_SEVERITY_ATTEND, CW_STAGE_MEASURING, output, text, evidence,
                     _("The tune hands over to it above that. Check its mounting and its wiring; if it is "
                       "sound, enter the higher frequency as its lowest."));
}

/* How many of an output's takes point each way, in words. */
static char *say_polarity_evidence(CwRecord *vehicle, gint64 output, const CwHeardCar *car, guint index)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  guint against = 0, count = 0;
  double certainty = 100 * car->verdict[index].inverted;

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_take_get_output(take) != output || !cw_take_get_accepted(take))
      continue;
    count++;
    against += cw_job_first_sound_is_inverted(take);
  }
  if (isnan(car->verdict[index].likeness))
    return g_strdup_printf(_("The first sound points the other way in %u of %u takes; %.0f %% sure."),
                           against, count, certainty);
  return g_strdup_printf(
      car->verdict[index].likeness < 0
          ? _("The first sound points the other way in %u of %u takes, and it mirrors that of "
              "the other speaker of the pair; %.0f %% sure.")
          : _("The first sound points the other way in %u of %u takes, as that of the other "
              "speaker of the pair does; %.0f %% sure."),
      against, count, certainty);
}

static void add_inverted(CwRecord *vehicle, CwRecord *speaker, const CwHeardCar *car, guint index)
{
  gint64 output = cw_speaker_get_output(speaker);
  g_autofree char *text =
      g_strdup_printf(_("%s (output %d) is wired in reverse."), cw_speaker_get_name(speaker), (int)output);
  g_autofree char *evidence = say_polarity_evidence(vehicle, output, car, index);

  cw_job_add_finding(vehicle, "speaker-inverted", CW_SEVERITY_ATTEND, CW_STAGE_MEASURING, output, text,
                     evidence,
                     _("Swap the two wires at the speaker or the amplifier; or leave it and let the tune "
                       "invert this output."));
}

static void judge_speaker(CwRecord *vehicle, CwRecord *speaker, const Heard *heard)
{
  gint64 output = cw_speaker_get_output(speaker);
  const char *name = cw_speaker_get_name(speaker);

  add_distorting(vehicle, speaker);
  if (heard->rattles >= 2 && 2 * heard->rattles > heard->accepted) {
    g_autofree char *text = g_strdup_printf(_("Something rattles when %s (output %d) plays near %.0f Hz."),
                                            name, (int)output, heard->rattle_hz);
    g_autofree char *evidence =
        g_strdup_printf(_("%u of %u takes hold noise far above the sweep there, up to %.0f dB SPL."),
                        heard->rattles, heard->accepted, heard->rattle_db);
    cw_job_add_finding(vehicle, "speaker-rattle", CW_SEVERITY_ATTEND, CW_STAGE_MEASURING, output, text,
                       evidence,
                       _("Play a slow sweep around that frequency and press on panels, grille and wiring "
                         "until it stops; then fasten or damp what moved."));
  }
}

/* Wires go to the right speaker first; which way round they are is asked then. */
static gboolean is_own_speaker(const CwSpeakerIdentity *identity)
{
  return identity->exchanged_with < 0 && !identity->misplaced;
}

static gboolean surely_inverted(const CwHeardCar *car, guint index)
{
  return car->heard[index] && car->verdict[index].inverted >= CW_POLARITY_SURE;
}

void cw_job_find_measuring(CwRecord *vehicle)
{
  g_autoptr(CwHeardCar) car = cw_job_hear_car(vehicle);
  g_autofree CwSpeakerIdentity *identity = cw_job_identify(vehicle, car);
  guint measured = 0, inverted = 0;

  cw_vehicle_clear_findings(vehicle, CW_STAGE_MEASURING);
  for (guint i = 0; i < car->outputs; i++) {
    measured += car->heard[i];
    inverted += surely_inverted(car, i);
  }
  for (guint i = 0; i < car->outputs; i++) {
    Heard heard = listen_to(vehicle, cw_speaker_get_output(car->speaker[i]));
    /* All of them: the microphone or its interface inverts, and nothing is said of the speakers. */
    if (surely_inverted(car, i) && is_own_speaker(&identity[i]) && !(measured > 1 && inverted == measured))
      add_inverted(vehicle, car->speaker[i], car, i);
    judge_speaker(vehicle, car->speaker[i], &heard);
  }
  cw_job_find_identity(vehicle, car, identity);
  add_refused(vehicle);
}
