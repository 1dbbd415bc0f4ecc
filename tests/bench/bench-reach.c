/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What places that were not measured cost a tune: the cars of the practice bay, tuned from the first three
 * places of a seat and from all six, both judged at all six. The second is the best that this search reaches
 * at places it knows; the distance between the two is what three places cannot tell of three others, and no
 * search can mend that. */
#include "bench.h"
#include "job/practice/practice.h"
#include "job/tuning/predict.h"
#include "job/tuning/tune.h"
#include <glib/gstdio.h>
#include <math.h>

#define SEAT "driver"
enum { KNOWN = 3, ALL = 6 };

typedef struct {
  double side_db, match_db;
} Figures;

/* Means of power over sixths of an octave, against the target at each side's own level (as the window tells
 * it).
 */
static Figures judge(CwProject *project, double low_hz)
{
  g_autoptr(GError) error = NULL;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwPrediction *prediction = cw_job_predict(project, SEAT, &error);
  g_assert_no_error(error);
  const double *hz = cw_prediction_hz(prediction);
  const CwNumbers *target = cw_vehicle_get_target(vehicle);
  double db[CW_PREDICTION_POINTS], apart[2][CW_PREDICTION_POINTS], squares = 0, match = 0;
  guint count = 0;

  for (int sum = 0; sum < 2; sum++) {
    double mean = 0;
    count = 0;
    cw_prediction_seat_db(prediction, (CwSum)sum, db);
    for (guint i = 4; i + 4 < CW_PREDICTION_POINTS; i += 4) {
      double power = 0, aim = 0;
      if (hz[i] < low_hz || hz[i] > 16000)
        continue;
      for (guint k = i - 4; k <= i + 4; k++)
        power += pow(10, db[k] / 10) / 9;
      for (guint r = 1; r < target->n_rows; r++)
        if (hz[i] >= cw_numbers_at(target, r - 1, 0))
          aim = cw_numbers_at(target, r - 1, 1) +
                (cw_numbers_at(target, r, 1) - cw_numbers_at(target, r - 1, 1)) *
                    log(hz[i] / cw_numbers_at(target, r - 1, 0)) /
                    log(cw_numbers_at(target, r, 0) / cw_numbers_at(target, r - 1, 0));
      apart[sum][count] = 10 * log10(power) - aim;
      mean += apart[sum][count++];
    }
    for (guint i = 0; i < count; i++) {
      apart[sum][i] -= mean / count;
      squares += apart[sum][i] * apart[sum][i];
    }
  }
  for (guint i = 0; i < count; i++)
    match += fabs(apart[0][i] - apart[1][i]);
  cw_prediction_free(prediction);
  return (Figures){sqrt(squares / (2 * count)), match / count};
}

static Figures tune_from(CwProject *project, int places, double low_hz)
{
  g_autoptr(GError) error = NULL;
  CwRecord *vehicle = cw_project_get_vehicle(project);

  cw_vehicle_set_positions_per_seat(vehicle, places);
  g_autoptr(CwTuneWork) work = cw_tune_work_new(project, SEAT, NULL, &error);
  g_assert_no_error(error);
  double start = bench_seconds();
  g_assert_true(cw_tune_work_run(work, NULL, NULL, NULL, &error));
  g_print("  tuned from %d places in %.2f s\n", places, bench_seconds() - start);
  cw_tune_work_store(work, project, CW_PROPOSAL_CLOSEST);
  cw_vehicle_set_positions_per_seat(vehicle, ALL);
  return judge(project, low_hz);
}

static int run_car(const char *name, double low_hz)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *folder = g_dir_make_tmp("reach-XXXXXX", NULL),
                  *path = g_build_filename(folder, "car.cabin", NULL);
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle(name, &error);
  CwProject *project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  g_autoptr(CwPracticeBay) bay = cw_job_practice_bay(vehicle, &error);

  g_assert_true(cw_job_practice_measure(project, bay, SEAT, NULL, NULL, NULL, &error));
  Figures part = tune_from(project, KNOWN, low_hz), whole = tune_from(project, ALL, low_hz);
  g_print(
      "%s: side %.2f dB from half of the places, %.2f dB from all (%.2f times); left against right %.2f and "
      "%.2f dB\n",
      name, part.side_db, whole.side_db, part.side_db / whole.side_db, part.match_db, whole.match_db);
  g_object_unref(project);
  g_unlink(path);
  g_rmdir(folder);
  return whole.side_db <= part.side_db ? 0 : 1;
}

int main(void)
{
  return run_car("alder-tourer", 50) + run_car("rowan-van", 80) ? 1 : 0;
}
