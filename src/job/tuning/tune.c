/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/tune.h"
#include "job/findings/review.h"
#include "job/tuning/measured_car.h"
#include "job/tuning/tune_record.h"
#include <glib/gi18n-lib.h>
#include <math.h>

struct CwTuneWork {
  CwCar *car;
  GPtrArray *seats;     /* of names; where several are served */
  GPtrArray *seat_cars; /* the car at each of them alone */
  CwProposal *proposal;
  double *alone_db; /* what a tune for each seat alone reaches */
  char *seat;       /* NULL for all */
  double *target_hz, *target_db;
  gsize target_count;
  CwLimits limits;
  CwProgress progress;
  gpointer progress_data;
  double part_from, part_over; /* of the whole work, for the proposal that is on */
  GCancellable *cancellable;
};

static void read_target(CwRecord *vehicle, CwTuneWork *work)
{
  const CwNumbers *target = cw_record_get_numbers(vehicle, "target");

  work->target_count = target ? target->n_rows : 0;
  work->target_hz = g_new(double, work->target_count + 1);
  work->target_db = g_new(double, work->target_count + 1);
  for (guint i = 0; i < work->target_count; i++) {
    work->target_hz[i] = cw_numbers_at(target, i, 0);
    work->target_db[i] = cw_numbers_at(target, i, 1);
  }
}

static void car_free(gpointer car)
{
  cw_car_free(car);
}

/* The car at each seat alone, to say what serving all of them costs. */
static gboolean gather_seats(CwProject *project, CwTuneWork *work, GError **error)
{
  const char *const *seats = cw_record_get_texts(cw_project_get_vehicle(project), "seats");

  for (guint i = 0; seats[i] && !work->seat && seats[1]; i++) {
    CwCar *car = cw_job_measured_car(project, seats[i], 0, error);
    if (!car) {
      g_prefix_error(error, "%s: ", seats[i]);
      return FALSE;
    }
    g_ptr_array_add(work->seats, g_strdup(seats[i]));
    g_ptr_array_add(work->seat_cars, car);
  }
  work->alone_db = g_new0(double, work->seats->len + 1);
  return TRUE;
}

CwTuneWork *cw_tune_work_new(CwProject *project, const char *seat, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwCar *car = cw_job_measured_car(project, seat, 0, error);
  g_autoptr(CwTuneWork) work = NULL;

  if (!car)
    return NULL;
  work = g_new0(CwTuneWork, 1);
  work->car = car;
  work->seat = g_strdup(seat);
  work->seats = g_ptr_array_new_with_free_func(g_free);
  work->seat_cars = g_ptr_array_new_with_free_func(car_free);
  read_target(vehicle, work);
  work->limits = cw_tuning_limits(cw_record_get_child(vehicle, "processor"));
  return gather_seats(project, work, error) ? g_steal_pointer(&work) : NULL;
}

void cw_tune_work_free(CwTuneWork *work)
{
  if (!work)
    return;
  cw_car_free(work->car);
  cw_proposal_free(work->proposal);
  g_ptr_array_unref(work->seats);
  g_ptr_array_unref(work->seat_cars);
  g_free(work->alone_db);
  g_free(work->seat);
  g_free(work->target_hz);
  g_free(work->target_db);
  g_free(work);
}

static bool is_cancelled(void *data)
{
  CwTuneWork *work = data;
  return work->cancellable && g_cancellable_is_cancelled(work->cancellable);
}

static void on_progress(double part, void *data)
{
  CwTuneWork *work = data;
  if (work->progress)
    work->progress(work->part_from + part * work->part_over,
                   part < 0.15 ? _("Choosing crossovers and delays")
                               : _("Fitting the filters of all outputs together"),
                   work->progress_data);
}

/* One proposal, which takes part_over of the whole. */
static CwProposal *propose(CwTuneWork *work, const CwCar *car, double part_over)
{
  CwProposalInput input = {.car = car,
                           .target_hz = work->target_hz,
                           .target_db = work->target_db,
                           .target_count = work->target_count,
                           .limits = work->limits,
                           .cancelled = is_cancelled,
                           .progress = on_progress,
                           .data = work};

  work->part_over = part_over;
  CwProposal *proposal = cw_proposal_make(&input);
  work->part_from += part_over;
  return proposal;
}

gboolean cw_tune_work_run(CwTuneWork *work, GCancellable *cancellable, CwProgress progress, gpointer data,
                          GError **error)
{
  guint count = work->seats->len;

  work->progress = progress;
  work->progress_data = data;
  work->cancellable = cancellable;
  work->part_from = 0;
  work->proposal = propose(work, work->car, 2.0 / (count + 2));
  for (guint i = 0; work->proposal && i < count; i++) {
    CwProposal *alone = propose(work, g_ptr_array_index(work->seat_cars, i), 1.0 / (count + 2));
    if (!alone)
      break;
    work->alone_db[i] = alone->result.side_db;
    cw_proposal_free(alone);
  }
  if (!work->proposal || is_cancelled(work))
    return g_cancellable_set_error_if_cancelled(cancellable, error), FALSE;
  return TRUE;
}

static void write_seats(const CwTuneWork *work, CwRecord *tune)
{
  cw_list_clear(cw_record_get_children(tune, "seats"));
  for (guint i = 0; i < work->seats->len && i < work->proposal->seats; i++) {
    CwRecord *seat = cw_record_add_child(tune, "seats");
    cw_record_set_text(seat, "seat", g_ptr_array_index(work->seats, i));
    cw_record_set_number(seat, "side_db", work->proposal->seat_result[i].side_db);
    cw_record_set_number(seat, "alone_db", work->alone_db[i]);
  }
}

void cw_tune_work_store(CwTuneWork *work, CwProject *project)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *tune = cw_record_make_child(vehicle, "tune");

  cw_record_set_text(tune, "seat", work->seat ? work->seat : "all");
  cw_job_write_tune(tune, work->car, work->proposal, work->limits.rate_hz);
  write_seats(work, tune);
  cw_job_review(vehicle);
}
