/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/tune.h"
#include "job/findings/review.h"
#include "job/takes/first_sounds.h"
#include "job/tuning/measured_car.h"
#include "job/tuning/tune_alternatives.h"
#include "job/tuning/tune_record.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define VOICING_PART 5 /* of a processor's filters are left to voicing */

struct CwTuneWork {
  CwCar *car;
  GPtrArray *seats;     /* of names; where several are served */
  GPtrArray *seat_cars; /* the car at each of them alone */
  CwProposal *choice[CW_PROPOSAL_CHOICES];
  CwProposalHold *hold; /* one an output; NULL where nothing is held */
  double *alone_db;     /* what a tune for each seat alone reaches */
  char *seat;           /* NULL for all */
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
  const CwNumbers *target = cw_vehicle_get_target(vehicle);

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
  const char *const *seats = cw_vehicle_get_seats(cw_project_get_vehicle(project));

  for (guint i = 0; seats[i] && !work->seat && seats[1]; i++) {
    CwCar *car = cw_job_measured_car(project, seats[i], CW_PURPOSE_TUNING, error);
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

/* Voicing comes on top of an output's own filters: as many as there are, at least one or two where the
 * processor has plenty. */
static void leave_room_for_voicing(CwRecord *vehicle, CwLimits *limits)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  gsize voicing = tune ? cw_list_get_length(cw_tune_get_voicing(tune)) : 0,
        room = MAX(voicing, limits->sections / VOICING_PART);
  limits->sections -= MIN(room, limits->sections);
}

CwTuneWork *cw_tune_work_new(CwProject *project, const char *seat, const CwTuneWish *wish, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwCar *car;
  g_autoptr(CwTuneWork) work = NULL;

  if (!cw_job_find_missing_edges(project, error))
    return NULL;
  cw_job_settle_first_sounds(vehicle);
  car = cw_job_measured_car(project, seat, CW_PURPOSE_TUNING, error);
  if (!car)
    return NULL;
  work = g_new0(CwTuneWork, 1);
  work->car = car;
  work->seat = g_strdup(seat);
  work->seats = g_ptr_array_new_with_free_func(g_free);
  work->seat_cars = g_ptr_array_new_with_free_func(car_free);
  read_target(vehicle, work);
  work->limits = cw_tuning_limits(cw_vehicle_get_processor(vehicle));
  leave_room_for_voicing(vehicle, &work->limits);
  if (wish && wish->filters)
    work->limits.sections = MIN(work->limits.sections, wish->filters);
  return cw_tune_wish_gather(wish, vehicle, car, work->limits.rate_hz, &work->hold, error) &&
                 gather_seats(project, work, error)
             ? g_steal_pointer(&work)
             : NULL;
}

void cw_tune_work_free(CwTuneWork *work)
{
  if (!work)
    return;
  cw_car_free(work->car);
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
    cw_proposal_free(work->choice[k]);
  g_free(work->hold);
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

static CwProposalInput input_of(CwTuneWork *work, const CwCar *car)
{
  return (CwProposalInput){.car = car,
                           .target_hz = work->target_hz,
                           .target_db = work->target_db,
                           .target_count = work->target_count,
                           .limits = work->limits,
                           .cancelled = is_cancelled,
                           .progress = on_progress,
                           .data = work};
}

/* What a tune for one seat alone reaches there: at least what the tune for all of them gives it. */
static gboolean try_alone(CwTuneWork *work, guint seat)
{
  CwProposalInput input = input_of(work, g_ptr_array_index(work->seat_cars, seat));
  CwProposal *alone = cw_proposal_make(&input);

  if (!alone)
    return FALSE;
  work->alone_db[seat] =
      fmin(alone->result.side_db, work->choice[CW_PROPOSAL_CLOSEST]->seat_result[seat].side_db);
  cw_proposal_free(alone);
  return TRUE;
}

gboolean cw_tune_work_run(CwTuneWork *work, GCancellable *cancellable, CwProgress progress, gpointer data,
                          GError **error)
{
  guint count = work->seats->len;
  CwProposalInput input = input_of(work, work->car);

  work->progress = progress;
  work->progress_data = data;
  work->cancellable = cancellable;
  work->part_from = 0;
  work->part_over = 2.0 / (count + 2);
  input.hold = work->hold;
  gboolean whole = cw_proposal_make_choices(&input, work->choice);
  work->part_from = work->part_over;
  work->part_over = 1.0 / (count + 2);
  for (guint i = 0; whole && i < count; i++, work->part_from += work->part_over)
    whole = try_alone(work, i);
  if (!whole || is_cancelled(work))
    return g_cancellable_set_error_if_cancelled(cancellable, error), FALSE;
  return TRUE;
}

static void write_seats(const CwTuneWork *work, const CwProposal *proposal, CwRecord *tune)
{
  cw_list_clear(cw_tune_get_seats(tune));
  for (guint i = 0; i < work->seats->len && i < proposal->seats; i++) {
    CwRecord *seat = cw_tune_add_to_seats(tune);
    cw_tune_seat_set_seat(seat, g_ptr_array_index(work->seats, i));
    cw_tune_seat_set_side_db(seat, proposal->seat_result[i].side_db);
    cw_tune_seat_set_alone_db(seat, fmin(work->alone_db[i], proposal->seat_result[i].side_db));
  }
}

void cw_tune_work_store(CwTuneWork *work, CwProject *project, CwProposalChoice choice)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *tune = cw_vehicle_make_tune(vehicle);

  cw_tune_set_seat(tune, work->seat ? work->seat : "all");
  cw_tune_write_alternatives(tune, work->car, work->choice, work->hold, work->limits.rate_hz);
  cw_job_write_tune(tune, work->car, work->choice[choice], work->hold, work->limits.rate_hz);
  cw_tune_set_chosen(tune, cw_tune_choice_name((int)choice));
  write_seats(work, work->choice[choice], tune);
  cw_job_review(vehicle);
}
