/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/practice/practice.h"
#include "handover/table.h"
#include "job/findings/review.h"
#include "job/map/checked_by_hand.h"
#include "job/practice/practice_car.h"
#include "job/practice/practice_radio.h"
#include "job/proof/proof.h"
#include "job/takes/feeds.h"
#include "job/takes/positions.h"
#include "job/tuning/tune.h"
#include "vehicle/json/document.h"
#include <glib/gi18n-lib.h>
#include <math.h>

CwPracticeBay *cw_job_practice_bay(CwRecord *vehicle, GError **error)
{
  const char *car = cw_job_practice_car(vehicle, error);
  return car ? cw_job_practice_bay_of(car, NULL, error) : NULL;
}

/* "driver/3" as seat and position of the bay. */
static gboolean find_place(CwRecord *vehicle, const char *position, guint *seat, guint *place, GError **error)
{
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  const char *slash = strchr(position, '/');

  for (guint s = 0; slash && seats[s]; s++)
    if (strlen(seats[s]) == (gsize)(slash - position) &&
        strncmp(seats[s], position, (gsize)(slash - position)) == 0) {
      *seat = s;
      *place = (guint)g_ascii_strtoull(slash + 1, NULL, 10) - 1;
      return TRUE;
    }
  g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE, "position: %s is not in the practice bay", position);
  return FALSE;
}

CwRecording *cw_job_practice_record(const CwPracticeBay *bay, CwRecord *vehicle, gint64 output,
                                    const char *position, guint64 seed, GError **error)
{
  CwPracticeRequest request = {.channels = 1, .seed = seed};
  CwSweepFeed feed;
  guint route[2] = {(guint)output - 1, 0};

  request.route = route;
  if (!find_place(vehicle, position, &request.seat, &request.position, error) ||
      !cw_job_read_feed(vehicle, output, FALSE, &feed, &request.rate_hz, error))
    return NULL;
  if (feed.has_marker) {
    CwRecord *record = cw_list_find_integer_at(cw_vehicle_get_feeds(vehicle), CW_FEED_FIELD_OUTPUT, output);
    route[1] = (guint)cw_feed_get_marker_output(record) - 1;
    request.channels = 2;
  }
  return cw_job_practice_play(bay, &feed, &request, error);
}

static gboolean measure_output(CwProject *project, const CwPracticeBay *bay, CwRecord *speaker,
                               char **positions, GCancellable *cancellable, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  gint64 output = cw_speaker_get_output(speaker);
  g_autofree char *what = g_strdup_printf(_("Measure %s"), cw_speaker_get_name(speaker));

  if (!cw_job_plan_feed(vehicle, output, 0, CW_FEED_LEVEL_DBFS, error))
    return FALSE;
  for (guint p = 0; positions[p]; p++) {
    if (g_cancellable_set_error_if_cancelled(cancellable, error))
      return FALSE;
    g_autoptr(CwRecording) recording =
        cw_job_practice_record(bay, vehicle, output, positions[p], (guint64)(output * 100 + p), error);
    g_autoptr(CwTakeOutcome) outcome =
        recording ? cw_job_analyse_take(vehicle, output, positions[p], CW_TIMING_LOOPBACK, CW_PURPOSE_TUNING,
                                        recording, error)
                  : NULL;
    if (!outcome)
      return FALSE;
    cw_job_store_take(project, outcome);
  }
  return cw_project_commit(project, what, error);
}

gboolean cw_job_practice_measure(CwProject *project, const CwPracticeBay *bay, const char *seat,
                                 GCancellable *cancellable, CwProgress progress, gpointer data,
                                 GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  g_auto(GStrv) positions = cw_job_positions(vehicle, seat);

  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    g_autofree char *words = g_strdup_printf(_("Measuring %s"), cw_speaker_get_name(speaker));
    if (progress)
      progress((double)i / cw_list_get_length(speakers), words, data);
    if (!measure_output(project, bay, speaker, positions, cancellable, error))
      return FALSE;
  }
  return TRUE;
}

CwRecording *cw_job_practice_record_side(const CwPracticeBay *bay, CwRecord *vehicle, CwSum side,
                                         const char *position, guint64 seed, GError **error)
{
  CwPracticeRequest request = {.channels = side == CW_SUM_BOTH ? 2 : 1, .seed = seed};
  guint left = cw_practice_bay_get_outputs(bay) - 2,
        route[2] = {side == CW_SUM_RIGHT ? left + 1 : left, left + 1};

  request.route = route;
  if (!find_place(vehicle, position, &request.seat, &request.position, error))
    return NULL;
  CwSweepFeed feed = cw_job_proof_feed(vehicle, &request.rate_hz);
  return cw_job_practice_play(bay, &feed, &request, error);
}

static gboolean prove_position(CwProject *project, const CwPracticeBay *bay, const char *position,
                               guint64 seed, GError **error)
{
  for (int side = 0; side < CW_SUMS; side++) {
    g_autoptr(CwRecording) recording = cw_job_practice_record_side(
        bay, cw_project_get_vehicle(project), (CwSum)side, position, seed + (guint64)side, error);
    g_autoptr(CwProofTake) take =
        recording ? cw_job_proof_add(project, (CwSum)side, position, recording, error) : NULL;
    if (!take)
      return FALSE;
  }
  return TRUE;
}

CwPracticeBay *cw_job_practice_tuned_bay(CwRecord *vehicle, GError **error)
{
  const char *car = cw_job_practice_car(vehicle, error);
  g_autoptr(CwTable) table = car ? cw_table_new(vehicle, 0, error) : NULL;
  g_autofree char *text = table ? cw_table_write(table, "json", FALSE, NULL, error) : NULL;
  return text ? cw_job_practice_bay_of(car, text, error) : NULL;
}

gboolean cw_job_practice_prove(CwProject *project, const char *seat, GCancellable *cancellable,
                               CwProgress progress, gpointer data, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwPracticeBay) bay = cw_job_practice_tuned_bay(vehicle, error);
  g_auto(GStrv) positions = cw_job_positions(vehicle, seat);

  if (!bay)
    return FALSE;
  for (guint p = 0; positions[p]; p++) {
    if (g_cancellable_set_error_if_cancelled(cancellable, error))
      return FALSE;
    if (progress)
      progress((double)p / g_strv_length(positions), _("Measuring again with the settings loaded"), data);
    if (!prove_position(project, bay, positions[p], 5000 + 10 * p, error))
      return FALSE;
  }
  return cw_job_judge_proof(project, error) && cw_project_commit(project, _("Prove the tune"), error);
}

/* The first name that is not taken yet: a vehicle may be practised on more than once. */
static char *free_point_name(CwProject *project, GError **error)
{
  g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, error);
  for (guint n = 1; points; n++) {
    g_autofree char *name = n == 1 ? g_strdup(_("First tune")) : g_strdup_printf(_("Tune %u"), n);
    gboolean taken = FALSE;
    for (guint i = 0; i < points->len; i++)
      taken |= g_str_equal(((const CwRestorePoint *)g_ptr_array_index(points, i))->name, name);
    if (!taken)
      return g_steal_pointer(&name);
  }
  return NULL;
}

/* What hands do, as they would in the bay: each gain is turned until a meter of 0.1 V steps reads the target.
 */
static gboolean use_hands(CwProject *project, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  cw_job_work_out_targets(vehicle);
  CwList *settings = cw_levels_get_settings(cw_vehicle_get_levels(vehicle));
  for (guint i = 0; i < cw_list_get_length(settings); i++) {
    CwRecord *setting = cw_list_get(settings, i);
    cw_level_setting_set_read_v(setting, round(10 * cw_level_setting_get_target_v(setting)) / 10);
    cw_level_setting_set_done(setting, TRUE);
  }
  cw_job_review(vehicle);
  return cw_project_commit(project, _("Set the gains"), error);
}

/* The van is driven by two who both listen; the estate is tuned for its driver. */
static char **seats_to_serve(CwRecord *vehicle, const char *car)
{
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  const char *first[] = {seats[0], NULL};
  return g_strdupv((char **)(g_str_equal(car, "rowan-van") ? seats : first));
}

static gboolean measure_seats(CwProject *project, const CwPracticeBay *bay, char **seats,
                              GCancellable *cancellable, CwProgress progress, gpointer data, GError **error)
{
  for (guint i = 0; seats[i]; i++)
    if (!cw_job_practice_measure(project, bay, seats[i], cancellable, progress, data, error))
      return FALSE;
  return TRUE;
}

gboolean cw_job_practice(CwProject *project, GCancellable *cancellable, CwProgress progress, gpointer data,
                         GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  const char *car = cw_job_practice_car(vehicle, error);
  if (!car)
    return FALSE;
  g_auto(GStrv) seats = seats_to_serve(vehicle, car);
  g_autoptr(CwPracticeBay) bay = cw_job_practice_bay(vehicle, error);

  if (!bay || !cw_job_practice_survey(project, cancellable, progress, data, error) ||
      !cw_job_practice_map(project, bay, cancellable, progress, data, error) || !use_hands(project, error) ||
      !measure_seats(project, bay, seats, cancellable, progress, data, error))
    return FALSE;
  g_autoptr(CwTuneWork) work = cw_tune_work_new(project, seats[1] ? NULL : seats[0], NULL, error);
  if (!work || !cw_tune_work_run(work, cancellable, progress, data, error))
    return FALSE;
  cw_tune_work_store(work, project, CW_PROPOSAL_CLOSEST);
  if (!cw_project_commit(project, _("Propose a tune"), error) ||
      !cw_job_practice_prove(project, seats[0], cancellable, progress, data, error))
    return FALSE;
  g_autofree char *name = free_point_name(project, error);
  return name && cw_project_make_restore_point(project, name, error);
}
