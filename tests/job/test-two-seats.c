/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The Rowan Van in the practice bay, both seats to be served by a coarse processor: the seat that fares worse
 * is better off under the tune for both than under one for the other seat alone. */
#include "job/practice/practice.h"
#include "job/tuning/predict.h"
#include "job/tuning/tune.h"
#include <glib/gstdio.h>
#include <math.h>

static const char *const seats[] = {"driver", "passenger"};

static double target_db(CwRecord *vehicle, double hz)
{
  const CwNumbers *target = cw_vehicle_get_target(vehicle);

  if (!target || target->n_rows == 0 || hz <= cw_numbers_at(target, 0, 0))
    return target && target->n_rows ? cw_numbers_at(target, 0, 1) : 0;
  for (guint i = 1; i < target->n_rows; i++)
    if (hz <= cw_numbers_at(target, i, 0)) {
      double part = log(hz / cw_numbers_at(target, i - 1, 0)) /
                    log(cw_numbers_at(target, i, 0) / cw_numbers_at(target, i - 1, 0));
      return cw_numbers_at(target, i - 1, 1) +
             part * (cw_numbers_at(target, i, 1) - cw_numbers_at(target, i - 1, 1));
    }
  return cw_numbers_at(target, target->n_rows - 1, 1);
}

/* Root mean square of what each side is away from the target at a seat, in sixths of an octave from 50 Hz to
 * 16 kHz. */
static double deviation_db(CwProject *project, const char *seat)
{
  g_autoptr(GError) error = NULL;
  CwPrediction *prediction = cw_job_predict(project, seat, &error);
  g_assert_no_error(error);
  const double *hz = cw_prediction_hz(prediction);
  double squares = 0, count = 0, db[CW_PREDICTION_POINTS];

  for (CwSum sum = CW_SUM_LEFT; sum <= CW_SUM_RIGHT; sum++) {
    double apart[CW_PREDICTION_POINTS], mean = 0;
    guint n = 0;
    cw_prediction_seat_db(prediction, sum, db);
    for (guint i = 4; i + 4 < CW_PREDICTION_POINTS; i += 4) {
      double power = 0;
      if (hz[i] < 50 || hz[i] > 16000)
        continue;
      for (guint k = i - 4; k <= i + 4; k++)
        power += pow(10, db[k] / 10) / 9;
      apart[n] = 10 * log10(power) - target_db(cw_project_get_vehicle(project), hz[i]);
      mean += apart[n++];
    }
    for (guint i = 0; i < n; i++)
      squares += (apart[i] - mean / n) * (apart[i] - mean / n);
    count += n;
  }
  cw_prediction_free(prediction);
  return sqrt(squares / count);
}

static double worst_with_tune(CwProject *project, const char *seat)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwTuneWork) work = cw_tune_work_new(project, seat, NULL, &error);
  g_assert_no_error(error);
  g_assert_true(cw_tune_work_run(work, NULL, NULL, NULL, &error));
  cw_tune_work_store(work, project, CW_PROPOSAL_CLOSEST);
  double one = deviation_db(project, seats[0]), other = deviation_db(project, seats[1]);
  g_test_message("tuned for %s: driver %.2f dB, passenger %.2f dB", seat ? seat : "both", one, other);
  return fmax(one, other);
}

static void check_compromise(CwRecord *vehicle)
{
  CwList *told = cw_tune_get_seats(cw_vehicle_get_tune(vehicle));

  g_assert_cmpuint(cw_list_get_length(told), ==, 2);
  for (guint i = 0; i < 2; i++) {
    CwRecord *seat = cw_list_get(told, i);
    g_assert_cmpstr(cw_tune_seat_get_seat(seat), ==, seats[i]);
    g_assert_cmpfloat(cw_tune_seat_get_side_db(seat), >=, cw_tune_seat_get_alone_db(seat));
  }
}

static void test_van(void)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *folder = g_dir_make_tmp("two-seats-XXXXXX", NULL),
                  *path = g_build_filename(folder, "van.cabin", NULL);
  CwRecord *vehicle = cw_job_practice_vehicle("rowan-van", &error);
  CwProject *project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  g_autoptr(CwPracticeBay) bay = cw_job_practice_bay(vehicle, &error);
  for (guint i = 0; i < 2; i++)
    g_assert_true(cw_job_practice_measure(project, bay, seats[i], NULL, NULL, NULL, &error));
  double driver = worst_with_tune(project, seats[0]), passenger = worst_with_tune(project, seats[1]),
         both = worst_with_tune(project, NULL);
  check_compromise(cw_project_get_vehicle(project));
  g_assert_cmpfloat(both, <, driver);
  g_assert_cmpfloat(both, <, passenger);
  g_object_unref(project);
  g_object_unref(vehicle);
  g_unlink(path);
  g_rmdir(folder);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/two-seats/van", test_van);
  return g_test_run();
}
