/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "job/findings/review.h"
#include "job/practice/practice.h"
#include "job/proof/proof.h"
#include "job/survey/survey_curves.h"
#include "vehicle/json/document.h"
#include "vehicle/project/project.h"
#include <glib/gstdio.h>
#include <math.h>

/* What the prediction is off by in the practice bay, whose noise and distortion are those of a real car; a
 * bar of our own. */
#define MOST_PROOF_RMS_DB 0.5

typedef struct {
  double last;
  guint calls;
} Progress;

static void on_progress(double part, const char *words, gpointer data)
{
  Progress *progress = data;
  g_assert_cmpfloat(part, >=, 0);
  g_assert_cmpfloat(part, <=, 1);
  g_assert_true(words && *words);
  progress->calls++;
}

static int state_of(CwRecord *vehicle, CwRouteStage stage)
{
  return cw_stage_get_state(cw_vehicle_find_stage(vehicle, stage));
}

/* A project of the Rowan Van, two positions a seat. */
static CwProject *make_project(char **folder)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle("rowan-van", &error);
  g_assert_no_error(error);
  cw_vehicle_set_positions_per_seat(vehicle, 2);
  *folder = g_dir_make_tmp("practice-XXXXXX", &error);
  g_autofree char *path = g_build_filename(*folder, "rowan.cabin", NULL);
  CwProject *project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  return project;
}

static void remove_project(CwProject *project, char *folder)
{
  g_autofree char *path = g_strdup(cw_project_get_path(project));
  g_object_unref(project);
  g_unlink(path);
  g_rmdir(folder);
  g_free(folder);
}

static void check_proof(CwRecord *vehicle)
{
  static const char *const subjects[] = {"driver, left alone", "driver, right alone", "driver, both sides"};
  CwList *rows = cw_vehicle_get_proof(vehicle);
  g_assert_cmpuint(cw_list_get_length(rows), ==, 3);
  for (guint i = 0; i < 3; i++) {
    CwRecord *row = cw_list_get(rows, i);
    g_assert_cmpstr(cw_proof_row_get_subject(row), ==, subjects[i]);
    g_assert_true(cw_proof_row_get_agrees(row));
    check_below("proof, dB", cw_proof_row_get_rms_db(row), MOST_PROOF_RMS_DB);
    g_assert_cmpuint(cw_proof_row_get_measured(row)->n_rows, ==, CW_PREDICTION_POINTS);
  }
  g_assert_true(cw_job_proof_is_current(vehicle));
}

static gboolean is_subwoofer(CwRecord *vehicle, gint64 output)
{
  CwRecord *speaker =
      cw_list_find_integer_at(cw_vehicle_get_speakers(vehicle), CW_SPEAKER_FIELD_OUTPUT, output);

  return speaker && cw_speaker_get_way(speaker) == CW_WAY_SUB;
}

/* The van's radio has its second lead wired the wrong way round (see practice_radios.c): that, and what it
 * does to a sum, is all that is found; and as notes what the tune leaves of holes in the cabin, and that no
 * first sound of the subwoofer can tell its polarity. */
static void check_findings(CwRecord *vehicle)
{
  static const char *const codes[] = {"lead-inverted", "leads-cancel"};
  CwList *findings = cw_vehicle_get_findings(vehicle);
  guint of_signal = 0;
  for (guint i = 0; i < cw_list_get_length(findings); i++) {
    CwRecord *finding = cw_list_get(findings, i);
    if (cw_finding_get_stage(finding) == CW_STAGE_TUNING) {
      gboolean by_sum = g_str_equal(cw_finding_get_code(finding), "polarity-by-sum");
      g_assert_true(by_sum || g_str_equal(cw_finding_get_code(finding), "boost-refused"));
      g_assert_true(!by_sum || is_subwoofer(vehicle, cw_about_get_output(cw_finding_get_about(finding))));
      g_assert_cmpint(cw_finding_get_severity(finding), ==, CW_SEVERITY_NOTE);
      continue;
    }
    g_assert_cmpuint(of_signal, <, G_N_ELEMENTS(codes));
    g_assert_cmpstr(cw_finding_get_code(finding), ==, codes[of_signal++]);
    g_assert_cmpint(cw_about_get_lead(cw_finding_get_about(finding)), ==, 2);
    g_assert_cmpint(cw_finding_get_stage(finding), ==, CW_STAGE_SIGNAL);
  }
  g_assert_cmpuint(of_signal, ==, G_N_ELEMENTS(codes));
}

/* What is drawn as the corrected mix is as flat as the correction says it is, in bands of a sixth of an
 * octave. */
static void check_corrected_side(CwRecord *vehicle, int side)
{
  CwRecord *correction = cw_survey_get_correction(cw_vehicle_get_survey(vehicle));
  double low = cw_correction_get_low_hz(correction), high = cw_correction_get_high_hz(correction),
         least = INFINITY, most = -INFINITY;
  CwNumbers *curve = cw_job_corrected_side(vehicle, side);
  g_assert_nonnull(curve);
  for (guint i = 1; i + 1 < curve->n_rows; i++) {
    double hz = cw_numbers_at(curve, i, 0), power = 0;
    for (int k = -1; k <= 1; k++)
      power += pow(10, cw_numbers_at(curve, (guint)((int)i + k), 1) / 10) / 3;
    if (hz < low * 1.06 || hz > high / 1.06)
      continue;
    least = fmin(least, 10 * log10(power));
    most = fmax(most, 10 * log10(power));
  }
  check_below("unevenness of the corrected mix, dB", (most - least) / 2,
              cw_correction_get_flatness_db(correction) + 0.25);
  cw_numbers_unref(curve);
}

/* Survey, measure, tune, prove: every stage it touches is done, nothing is found in a sound car but what its
 * radio holds, and a proof is one of its settings. */
static void test_whole_job(void)
{
  char *folder;
  g_autoptr(GError) error = NULL;
  Progress progress = {0};
  CwProject *project = make_project(&folder);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_assert_true(cw_job_practice(project, NULL, on_progress, &progress, &error));
  g_assert_no_error(error);
  g_assert_cmpuint(progress.calls, >, 5);
  check_proof(vehicle);
  check_corrected_side(vehicle, CW_SIDE_LEFT);
  check_corrected_side(vehicle, CW_SIDE_RIGHT);
  check_findings(vehicle);
  g_assert_cmpint(state_of(vehicle, CW_STAGE_SIGNAL), ==, CW_STAGE_DONE);
  g_assert_cmpuint(cw_list_get_length(cw_tune_get_inputs(cw_vehicle_get_tune(vehicle))), ==, 2);
  g_assert_cmpint(state_of(vehicle, CW_STAGE_MEASURING), ==, CW_STAGE_DONE);
  g_assert_cmpint(state_of(vehicle, CW_STAGE_TUNING), ==, CW_STAGE_DONE);
  g_assert_cmpint(state_of(vehicle, CW_STAGE_PROOF), ==, CW_STAGE_DONE);
  g_assert_cmpint(state_of(vehicle, CW_STAGE_MAP), ==, CW_STAGE_DONE);
  g_assert_cmpint(state_of(vehicle, CW_STAGE_LEVELS), ==, CW_STAGE_DONE);
  CwRecord *output = cw_list_get(cw_tune_get_outputs(cw_vehicle_get_tune(vehicle)), 2);
  double gain_db = cw_tune_output_get_gain_db(output);
  cw_tune_output_set_gain_db(output, gain_db - 1);
  cw_job_review(vehicle);
  g_assert_false(cw_job_proof_is_current(vehicle));
  g_assert_cmpint(state_of(vehicle, CW_STAGE_PROOF), ==, CW_STAGE_BEGUN);
  cw_tune_output_set_gain_db(output, gain_db);
  g_assert_true(cw_job_proof_is_current(vehicle));
  g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, &error);
  g_assert_cmpuint(points->len, ==, 1);
  remove_project(project, folder);
}

/* Cancelled at once: an error that says so, and the vehicle as it was on the disk. */
static void test_cancelled(void)
{
  char *folder;
  g_autoptr(GError) error = NULL;
  g_autoptr(GCancellable) cancellable = g_cancellable_new();
  CwProject *project = make_project(&folder);
  g_cancellable_cancel(cancellable);
  g_assert_false(cw_job_practice(project, cancellable, NULL, NULL, &error));
  g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
  g_assert_cmpuint(cw_list_get_length(cw_vehicle_get_takes(cw_project_get_vehicle(project))), ==, 0);
  remove_project(project, folder);
}

/* There is no simulated car for a customer's. */
static void test_other_vehicle(void)
{
  char *folder;
  g_autoptr(GError) error = NULL;
  CwProject *project = make_project(&folder);
  cw_vehicle_set_reference(cw_project_get_vehicle(project), "J-0199");
  g_assert_false(cw_job_practice(project, NULL, NULL, NULL, &error));
  g_assert_error(error, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
  remove_project(project, folder);
}

/* The intake sheets that are installed as examples are those of the cars in the bay. */
static void test_sheets(gconstpointer car)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *path = g_strdup_printf("%s/%s.json", CW_TEST_DATA, (const char *)car), *text = NULL;
  gsize length;
  g_file_get_contents(path, &text, &length, &error);
  g_assert_no_error(error);
  g_autoptr(CwRecord) sheet = cw_record_from_json(cw_vehicle_get_type(), text, (gssize)length, &error);
  g_assert_no_error(error);
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle(car, &error);
  cw_job_review(sheet);
  g_autofree char *one = cw_record_to_json(sheet, NULL), *other = cw_record_to_json(vehicle, NULL);
  g_assert_cmpstr(one, ==, other);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_data_func("/practice/sheet/alder-tourer", "alder-tourer", test_sheets);
  g_test_add_data_func("/practice/sheet/rowan-van", "rowan-van", test_sheets);
  g_test_add_func("/job/practice/whole-job", test_whole_job);
  g_test_add_func("/job/practice/cancelled", test_cancelled);
  g_test_add_func("/job/practice/other-vehicle", test_other_vehicle);
  return g_test_run();
}
