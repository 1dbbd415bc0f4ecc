/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Findings of the measuring stage that hold what is heard against the sheet: the speaker, its distance, the
 * place. */
#include "job/findings/findings_identity.h"
#include "job/findings/review.h"
#include "job/takes/positions.h"
#include "job/takes/take_checks.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define MOST_POSITIONS 8

static const char *name_of(const CwHeardCar *car, guint output)
{
  return cw_speaker_get_name(car->speaker[output]);
}

static int number_of(const CwHeardCar *car, guint output)
{
  return (int)cw_speaker_get_output(car->speaker[output]);
}

/* Distance by sound and by tape at the first seat where they contradict each other; FALSE for none. */
static gboolean contradiction(const CwHeardCar *car, guint output, guint *seat)
{
  for (*seat = 0; *seat < car->seats; ++*seat)
    if (car->sounds->distance[output * car->seats + *seat].contradicts)
      return TRUE;
  return FALSE;
}

static double sheet_cm(const CwHeardCar *car, guint output, guint seat)
{
  const CwNumbers *distances = cw_speaker_get_distance_cm(car->speaker[output]);
  return distances ? cw_numbers_named(distances, car->seat[seat]) : NAN;
}

static void add_exchanged(CwRecord *vehicle, const CwHeardCar *car, const CwSpeakerIdentity *identity,
                          guint output)
{
  guint other = (guint)identity[output].exchanged_with, seat;
  g_autofree char *text =
      g_strdup_printf(_("%s (output %d) and %s (output %d) are exchanged."), name_of(car, output),
                      number_of(car, output), name_of(car, other), number_of(car, other));
  g_autofree char *band =
      g_strdup_printf(_("Output %d plays %.0f Hz to %.0f Hz, output %d %.0f Hz to %.0f Hz."),
                      number_of(car, output), identity[output].low_hz, identity[output].high_hz,
                      number_of(car, other), identity[other].low_hz, identity[other].high_hz);
  g_autofree char *distance =
      contradiction(car, output, &seat)
          ? g_strdup_printf(
                _(" The sound of output %d comes from %.0f cm away; its sheet says %.0f cm, that of output "
                  "%d %.0f cm."),
                number_of(car, output), 100 * car->sounds->distance[output * car->seats + seat].heard_m,
                sheet_cm(car, output, seat), number_of(car, other), sheet_cm(car, other, seat))
          : g_strdup("");
  g_autofree char *evidence = g_strconcat(band, distance, NULL);

  cw_job_add_finding(
      vehicle, "speakers-exchanged", CW_SEVERITY_STOP, CW_STAGE_MEASURING, number_of(car, output), text,
      evidence,
      _("Exchange the two speaker wires, or the two speakers on the sheet, and record the takes of both "
        "outputs again. A tweeter on a midbass output is damaged by bass: turn it down first."));
}

static void add_misplaced(CwRecord *vehicle, const CwHeardCar *car, const CwSpeakerIdentity *identity,
                          guint output)
{
  const CwSpeakerIdentity *id = &identity[output];
  g_autofree char *text =
      id->looks_like >= 0
          ? g_strdup_printf(_("Output %d does not play %s: it sounds like %s (output %d)."),
                            number_of(car, output), name_of(car, output), name_of(car, (guint)id->looks_like),
                            number_of(car, (guint)id->looks_like))
          : g_strdup_printf(_("Output %d does not play %s."), number_of(car, output), name_of(car, output));
  g_autofree char *evidence = g_strdup_printf(
      _("%u of %u takes play %.0f Hz to %.0f Hz only, which is not the range of that speaker."),
      (guint)id->misfits, (guint)id->takes, id->low_hz, id->high_hz);

  cw_job_add_finding(
      vehicle, "speaker-misplaced", CW_SEVERITY_STOP, CW_STAGE_MEASURING, number_of(car, output), text,
      evidence,
      _("Check which speaker plays on this output and correct the wires or the sheet; then record its "
        "takes again."));
}

/* The output whose accepted takes are those of an output again, which were refused for that; how many. */
static guint count_repeated(CwRecord *vehicle, gint64 output, gint64 *other)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  guint count = 0;

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    CwTakeLikeness like = {cw_take_get_output(take),   cw_take_get_position(take),
                           cw_take_get_timing(take),   cw_take_get_purpose(take),
                           cw_take_get_response(take), cw_take_get_arrival_ms(take)};
    if (like.output != output || cw_take_get_accepted(take) || like.purpose != CW_PURPOSE_TUNING ||
        cw_job_find_take(vehicle, output, like.position, like.purpose))
      continue;
    gint64 same = cw_job_same_speaker(vehicle, &like);
    if (same == CW_NO_INTEGER)
      continue;
    *other = same;
    count++;
  }
  return count;
}

/* Refused takes of an output in which another one's speaker played; not where that one's own takes hold a
 * wrong speaker. */
static void add_repeated(CwRecord *vehicle, const CwHeardCar *car, const CwSpeakerIdentity *identity,
                         guint output)
{
  gint64 number = CW_NO_INTEGER;
  guint count = count_repeated(vehicle, number_of(car, output), &number);
  int other = count ? cw_heard_car_index(car, number) : -1;

  if (other < 0 || identity[other].misplaced || identity[other].exchanged_with >= 0)
    return;
  g_autofree char *text =
      g_strdup_printf(_("Output %d does not play %s: it sounds like %s (output %d)."), number_of(car, output),
                      name_of(car, output), name_of(car, (guint)other), number_of(car, (guint)other));
  g_autofree char *evidence = g_strdup_printf(
      ngettext("%u take of it is that of output %d again: same response, same arrival.",
               "%u takes of it are those of output %d again: same response, same arrival.", count),
      count, number_of(car, (guint)other));

  cw_job_add_finding(
      vehicle, "speaker-misplaced", CW_SEVERITY_STOP, CW_STAGE_MEASURING, number_of(car, output), text,
      evidence,
      _("Check which speaker plays on this output and correct the wires or the sheet; then record its "
        "takes again."));
}

static void add_distance(CwRecord *vehicle, const CwHeardCar *car, guint output, guint seat)
{
  const CwHeardDistance *heard = &car->sounds->distance[output * car->seats + seat];
  g_autofree char *text =
      g_strdup_printf(_("%s (output %d) is not as far from the seat %s as the sheet says."),
                      name_of(car, output), number_of(car, output), car->seat[seat]);
  g_autofree char *evidence =
      g_strdup_printf(_("Sheet: %.0f cm. By sound: %.0f cm, give or take %.0f cm."),
                      sheet_cm(car, output, seat), 100 * heard->heard_m, 100 * heard->heard_doubt_m);

  cw_job_add_finding(
      vehicle, "distance-contradicts", CW_SEVERITY_ATTEND, CW_STAGE_MEASURING, number_of(car, output), text,
      evidence,
      _("Measure the distance again. If it is right, check that this speaker is on this output. The "
        "tune uses the sound."));
}

static void add_position(CwRecord *vehicle, const CwMisplacedPosition *position)
{
  g_autofree char *text =
      position->seat
          ? g_strdup_printf(_("The takes at %s fit the seat %s."), position->position, position->seat)
          : g_strdup_printf(_("The microphone was not at %s."), position->position);
  g_autofree char *evidence = g_strdup_printf(
      _("Over all speakers the sound comes from ways that differ by %.0f cm from those to the other "
        "positions of the seat; a head's positions differ by a decimetre."),
      100 * position->off_m);

  cw_job_add_finding(vehicle, "position-misplaced", CW_SEVERITY_ATTEND, CW_STAGE_MEASURING, 0, text, evidence,
                     _("Record the takes of this position again with the microphone there."));
}

void cw_job_find_identity(CwRecord *vehicle, const CwHeardCar *car, const CwSpeakerIdentity *identity)
{
  CwMisplacedPosition position[MOST_POSITIONS];
  guint count = cw_job_find_misplaced_positions(vehicle, car, position, MOST_POSITIONS);

  for (guint o = 0; o < car->outputs; o++) {
    if (identity[o].exchanged_with >= 0)
      add_exchanged(vehicle, car, identity, o);
    else if (identity[o].misplaced)
      add_misplaced(vehicle, car, identity, o);
    else
      add_repeated(vehicle, car, identity, o);
    for (guint seat = 0; seat < car->seats && identity[o].exchanged_with < 0 && !identity[o].misplaced;
         seat++)
      if (car->sounds->distance[o * car->seats + seat].contradicts)
        add_distance(vehicle, car, o, seat);
  }
  for (guint i = 0; i < count; i++)
    add_position(vehicle, &position[i]);
}
