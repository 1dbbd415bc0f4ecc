/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Curves of takes made in the practice bay: they agree with what the takes themselves say, and with each
 * other. */
#include "job/practice/practice.h"
#include "job/takes/curves.h"
#include "job/takes/feeds.h"
#include "job/takes/positions.h"
#include <glib/gstdio.h>
#include <locale.h>
#include <math.h>

static CwProject *project;

static CwCurve *curve_of(const char *position, CwCurveKind kind, int fraction, double window_seconds)
{
  g_autoptr(GError) error = NULL;
  CwCurveOptions options = {fraction, window_seconds};
  CwCurve *curve = cw_job_curve(project, 3, position, kind, &options, &error);
  g_assert_no_error(error);
  g_assert_cmpuint(curve->count, >, 1);
  return curve;
}

static void measure(const char *position, guint64 seed)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwPracticeBay) bay = cw_job_practice_bay(vehicle, NULL);
  g_autoptr(GError) error = NULL;
  g_assert_true(cw_job_plan_feed(vehicle, 3, 0, CW_FEED_LEVEL_DBFS, &error));
  g_autoptr(CwRecording) recording = cw_job_practice_record(bay, vehicle, 3, position, seed, &error);
  g_autoptr(CwTakeOutcome) outcome =
      cw_job_analyse_take(vehicle, 3, position, CW_TIMING_LOOPBACK, CW_PURPOSE_TUNING, recording, &error);
  g_assert_no_error(error);
  cw_job_store_take(project, outcome);
}

static double at(const CwCurve *curve, double x)
{
  for (guint i = 1; i < curve->count; i++)
    if (curve->x[i] >= x)
      return curve->y[i - 1] +
             (curve->y[i] - curve->y[i - 1]) * (x - curve->x[i - 1]) / (curve->x[i] - curve->x[i - 1]);
  return NAN;
}

static void test_response(void)
{
  g_autoptr(CwCurve) curve = curve_of("driver/1", CW_CURVE_RESPONSE, 0, 0),
                     smooth = curve_of("driver/1", CW_CURVE_RESPONSE, 1, 0);
  CwRecord *take = cw_job_find_take(cw_project_get_vehicle(project), 3, "driver/1", CW_PURPOSE_TUNING);
  const CwNumbers *own = cw_take_get_response(take);
  double rough = 0, smoother = 0;
  guint k = 0;

  for (guint i = 0; i < own->n_rows; i++) {
    if (isnan(cw_numbers_at(own, i, 1)))
      continue;
    g_assert_cmpfloat(fabs(curve->x[k] / cw_numbers_at(own, i, 0) - 1), <, 1e-4);
    g_assert_cmpfloat(fabs(curve->y[k++] - cw_numbers_at(own, i, 1)), <, 0.02);
  }
  g_assert_cmpuint(k, ==, curve->count);
  for (guint i = 1; i < curve->count; i++) {
    rough += fabs(curve->y[i] - curve->y[i - 1]);
    smoother += fabs(smooth->y[i] - smooth->y[i - 1]);
  }
  g_assert_cmpfloat(smoother, <, 0.4 * rough);
}

/* The impulse starts after the arrival's time, and the step is its sum. */
static void test_in_time(void)
{
  g_autoptr(CwCurve) impulse = curve_of("driver/1", CW_CURVE_IMPULSE, 0, 0),
                     step = curve_of("driver/1", CW_CURVE_STEP, 0, 0);
  double arrival = cw_take_get_arrival_ms(
             cw_job_find_take(cw_project_get_vehicle(project), 3, "driver/1", CW_PURPOSE_TUNING)),
         sum = 0, top = 0, top_at = 0;

  for (guint i = 0; i < impulse->count; i++) {
    sum += impulse->y[i];
    g_assert_cmpfloat(fabs(step->y[i] - sum), <, 1e-9);
    if (fabs(impulse->y[i]) > top) {
      top = fabs(impulse->y[i]);
      top_at = impulse->x[i];
    }
  }
  g_assert_cmpfloat(top_at, >, arrival - 0.5);
  g_assert_cmpfloat(top_at, <, arrival + 8);
}

/* Before the first echo a woofer's excess phase is next to none, its group delay is its arrival where its
 * band is wide. */
static void test_phase(void)
{
  g_autoptr(CwCurve) excess = curve_of("driver/1", CW_CURVE_EXCESS_PHASE, 0, 3e-3),
                     delay = curve_of("driver/1", CW_CURVE_GROUP_DELAY, 3, 3e-3);
  g_autoptr(CwCurve) phase = curve_of("driver/1", CW_CURVE_PHASE, 0, 3e-3);
  double arrival = cw_take_get_arrival_ms(
      cw_job_find_take(cw_project_get_vehicle(project), 3, "driver/1", CW_PURPOSE_TUNING));

  for (double hz = 400; hz < 3000; hz *= 1.1)
    g_assert_cmpfloat(fabs(at(excess, hz)), <, 75);
  for (double hz = 800; hz < 3000; hz *= 1.1)
    g_assert_cmpfloat(fabs(at(delay, hz) - arrival), <, 1.0);
  for (guint i = 1; i < phase->count; i++)
    if (phase->x[i] / phase->x[i - 1] < 1.02)
      g_assert_cmpfloat(fabs(phase->y[i] - phase->y[i - 1]), <, 180);
}

static void test_spread(void)
{
  g_autoptr(CwCurve) one = curve_of("driver/1", CW_CURVE_RESPONSE, 6, 0),
                     two = curve_of("driver/2", CW_CURVE_RESPONSE, 6, 0);
  g_autoptr(CwCurve) spread = curve_of("driver", CW_CURVE_SPREAD, 0, 0);

  for (guint i = 0; i < spread->count; i += 7) {
    double expected = fabs(at(one, spread->x[i] * 1.00001) - at(two, spread->x[i] * 1.00001)) / sqrt(2);
    if (!isnan(expected))
      g_assert_cmpfloat(fabs(spread->y[i] - expected), <, 0.01);
  }
}

static void test_decay(void)
{
  g_autoptr(CwCurve) decay = curve_of("driver/1", CW_CURVE_DECAY, 0, 0);

  for (guint i = 0; i < decay->count; i++) {
    g_assert_cmpfloat(decay->y[i], >, 0.02); /* a cabin with seats: a twentieth to a quarter of a second */
    g_assert_cmpfloat(decay->y[i], <, 0.4);
  }
}

static void test_csv(void)
{
  g_autoptr(CwCurve) curve = curve_of("driver/1", CW_CURVE_RESPONSE, 0, 0);

  if (!setlocale(LC_NUMERIC, "de_DE.UTF-8"))
    g_test_message("no locale with a decimal comma here");
  g_autofree char *csv = cw_curve_to_csv(curve);
  g_auto(GStrv) lines = g_strsplit(csv, "\r\n", -1);
  setlocale(LC_NUMERIC, "C");
  g_assert_cmpstr(lines[0], ==, "frequency_hz,level_db_spl");
  g_assert_cmpuint(g_strv_length(lines), ==, curve->count + 2);
  for (guint i = 0; i < curve->count; i++) {
    g_auto(GStrv) cells = g_strsplit(lines[i + 1], ",", -1);
    g_assert_cmpuint(g_strv_length(cells), ==, 2);
    g_assert_cmpfloat(fabs(g_ascii_strtod(cells[1], NULL) - curve->y[i]), <, 1e-3);
  }
}

static void test_refused(void)
{
  g_autoptr(GError) place = NULL, output = NULL, smoothing = NULL, spread = NULL;
  CwCurveOptions options = {99, 0};

  g_assert_null(cw_job_curve(project, 3, "driver/6", CW_CURVE_PHASE, NULL, &place));
  g_assert_error(place, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
  g_assert_null(cw_job_curve(project, 1, "driver/1", CW_CURVE_PHASE, NULL, &output));
  g_assert_error(output, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
  g_assert_null(cw_job_curve(project, 3, "driver/1", CW_CURVE_RESPONSE, &options, &smoothing));
  g_assert_error(smoothing, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
  g_assert_null(cw_job_curve(project, 1, "driver", CW_CURVE_SPREAD, NULL, &spread));
  g_assert_error(spread, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
}

int main(int argc, char **argv)
{
  g_autoptr(GError) error = NULL;
  int status;

  g_test_init(&argc, &argv, NULL);
  g_autofree char *folder = g_dir_make_tmp("curves-XXXXXX", &error),
                  *path = g_build_filename(folder, "car.cabin", NULL);
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle("rowan-van", &error);
  project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  measure("driver/1", 1);
  measure("driver/2", 2);
  g_test_add_func("/job/curves/response", test_response);
  g_test_add_func("/job/curves/in-time", test_in_time);
  g_test_add_func("/job/curves/phase", test_phase);
  g_test_add_func("/job/curves/spread", test_spread);
  g_test_add_func("/job/curves/decay", test_decay);
  g_test_add_func("/job/curves/csv", test_csv);
  g_test_add_func("/job/curves/refused", test_refused);
  status = g_test_run();
  g_object_unref(project);
  g_unlink(path);
  g_rmdir(folder);
  return status;
}
