/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/review.h"
#include "job/takes/clean_band.h"
#include "job/takes/feeds.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define SURE 0.5               /* of a polarity's confidence, on the mean */
#define RATTLE_APART (1.0 / 3) /* octaves within which two takes speak of the same rattle */

void cw_job_add_finding(CwRecord *vehicle, const char *code, CwSeverity severity, CwRouteStage stage,
                        gint64 output, const char *text, const char *evidence, const char *advice)
{
  CwRecord *finding = cw_vehicle_add_finding(vehicle, code, severity, stage);

  if (output > 0)
    cw_about_set_output(cw_finding_make_about(finding), output);
  cw_finding_set_text(finding, text);
  cw_finding_set_evidence(finding, evidence);
  cw_finding_set_advice(finding, advice);
}

/* What all accepted takes of one output say together. */
typedef struct {
  guint accepted, refused, inverted, normal, rattles;
  double confidence; /* sum over the takes, signed by polarity */
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
    if (!cw_take_has_polarity(take))
      continue;
    gboolean inverted = cw_take_get_polarity(take) == CW_POLARITY_INVERTED;
    heard.inverted += inverted;
    heard.normal += !inverted;
    heard.confidence += cw_take_get_polarity_confidence(take) * (inverted ? -1 : 1);
  }
  count_rattles(takes, output, &heard);
  return heard;
}

static gboolean surely_inverted(const Heard *h)
{
  return h->inverted >= 2 * h->normal && h->inverted > 0 && -h->confidence / (h->inverted + h->normal) > SURE;
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

static void judge_speaker(CwRecord *vehicle, CwRecord *speaker, const Heard *heard, gboolean all_inverted)
{
  gint64 output = cw_speaker_get_output(speaker);
  const char *name = cw_speaker_get_name(speaker);

  if (surely_inverted(heard) && !all_inverted) {
    g_autofree char *text = g_strdup_printf(_("%s (output %d) is wired in reverse."), name, (int)output);
    g_autofree char *evidence = g_strdup_printf(
        _("%u of %u takes show it inverted against the feed, on the mean %.0f %% sure."), heard->inverted,
        heard->inverted + heard->normal, -100 * heard->confidence / (heard->inverted + heard->normal));
    cw_job_add_finding(vehicle, "speaker-inverted", CW_SEVERITY_ATTEND, CW_STAGE_MEASURING, output, text,
                       evidence,
                       _("Swap the two wires at the speaker or the amplifier; or leave it and let the tune "
                         "invert this output."));
  }
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

void cw_job_find_measuring(CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  guint count = cw_list_get_length(speakers), measured = 0, inverted = 0;
  g_autofree Heard *heard = g_new0(Heard, count);

  cw_vehicle_clear_findings(vehicle, CW_STAGE_MEASURING);
  for (guint i = 0; i < count; i++) {
    heard[i] = listen_to(vehicle, cw_speaker_get_output(cw_list_get(speakers, i)));
    measured += heard[i].accepted > 0;
    inverted += surely_inverted(&heard[i]);
  }
  /* All of them: the microphone or its interface inverts, and nothing is said of the speakers. */
  for (guint i = 0; i < count; i++)
    judge_speaker(vehicle, cw_list_get(speakers, i), &heard[i], measured > 1 && inverted == measured);
  add_refused(vehicle);
}
