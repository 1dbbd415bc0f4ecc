/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a vehicle's takes say of the next one: a wrong speaker, a microphone that moved, a level and a number
 * of sweeps. */
#include "job/findings/review.h"
#include "job/practice/practice.h"
#include "job/takes/clean_band.h"
#include "job/takes/feeds.h"
#include "job/takes/positions.h"
#include "job/takes/take_checks.h"
#include "signal/filters/section.h"
#include "simulator/practice_drive.h"
#include <glib/gstdio.h>
#include <math.h>

typedef struct {
  CwProject *project;
  CwRecord *vehicle;
  char *folder;
} Bench;

static Bench bench_open(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle("alder-tourer", &error);
  Bench bench = {.folder = g_dir_make_tmp("takes-XXXXXX", &error)};
  g_autofree char *path = g_build_filename(bench.folder, "car.cabin", NULL);
  bench.project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  bench.vehicle = cw_project_get_vehicle(bench.project);
  return bench;
}

static void bench_close(Bench *bench)
{
  g_autofree char *path = g_strdup(cw_project_get_path(bench->project));
  g_object_unref(bench->project);
  g_unlink(path);
  g_rmdir(bench->folder);
  g_free(bench->folder);
}

/* What the bay's microphone hears of an output's feed, with the defects named. */
static CwRecording *record(Bench *bench, gint64 output, const char *defects)
{
  g_autofree char *text = g_strdup_printf("{\"car\":\"alder-tourer\",\"defects\":%s}", defects);
  g_autoptr(GError) error = NULL;
  g_autoptr(CwPracticeBay) bay = cw_practice_bay_new(cw_practice_setup_parse(text, &error));
  CwRecording *recording = cw_job_practice_record(bay, bench->vehicle, output, "driver/1", 5, &error);
  g_assert_no_error(error);
  return recording;
}

static CwRecord *store(Bench *bench, gint64 output, const char *position, const CwRecording *recording)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwTakeOutcome) outcome = cw_job_analyse_take(bench->vehicle, output, position, CW_TIMING_LOOPBACK,
                                                         CW_PURPOSE_TUNING, recording, &error);
  g_assert_no_error(error);
  return cw_job_store_take(bench->project, outcome);
}

/* A take of an output in the bay; noise is added to what the microphone hears. Borrowed. */
static CwRecord *take(Bench *bench, gint64 output, const char *defects, double noise_rms)
{
  g_autoptr(CwRecording) recording = record(bench, output, defects);
  CwPracticeNoise noise = {9};
  for (gsize i = 0; i < recording->frames; i++)
    recording->channel[0][i] += noise_rms * cw_practice_noise_next(&noise);
  return store(bench, output, "driver/1", recording);
}

static gboolean has_reason(CwRecord *take, const char *part)
{
  g_autofree char *reasons = g_strjoinv("; ", (char **)cw_take_get_reasons(take));
  g_test_message("%s", reasons);
  return strstr(reasons, part) != NULL;
}

static void test_wrong_speaker(void)
{
  Bench bench = bench_open();

  g_assert_true(cw_take_get_accepted(take(&bench, 1, "[]", 0)));
  CwRecord *wrong = take(&bench, 2, "[\"front-highs-swapped\"]", 0);
  g_assert_false(cw_take_get_accepted(wrong));
  g_assert_true(has_reason(wrong, "another output's speaker"));
  g_assert_true(cw_take_get_accepted(take(&bench, 2, "[]", 0)));
  g_assert_true(cw_take_get_accepted(take(&bench, 1, "[]", 0))); /* the same output again is no other */
  bench_close(&bench);
}

static void test_noise(void)
{
  Bench bench = bench_open();
  g_autoptr(GError) error = NULL;

  CwRecord *quiet = take(&bench, 5, "[]", 0.12);
  g_assert_false(cw_take_get_accepted(quiet));
  g_assert_true(has_reason(quiet, "(noise from "));
  const CwNumbers *bands = cw_take_get_snr_bands(quiet);
  g_assert_cmpuint(bands->n_rows, >, 20);
  /* louder first, as far as is allowed ... */
  g_autofree char *louder = cw_job_plan_next_feed(bench.vehicle, 5, -6, &error);
  CwRecord *feed = cw_list_find_integer_at(cw_vehicle_get_feeds(bench.vehicle), CW_FEED_FIELD_OUTPUT, 5);
  g_test_message("%s", louder);
  g_assert_cmpfloat(cw_feed_get_level_dbfs(feed), ==, -6);
  /* ... and for what is lacking then, several sweeps */
  double lacking = 30 - cw_take_get_snr_db(quiet) - 6;
  double won = 10 * log10((double)cw_feed_get_repeats(feed));
  g_assert_true(won >= fmin(lacking, 9) - 0.5 && won < fmax(lacking, 0) + 3.1);
  CwRecord *better = take(&bench, 5, "[]", 0.12);
  g_test_message("SNR %.1f dB, then %.1f dB with %d sweeps", cw_take_get_snr_db(quiet),
                 cw_take_get_snr_db(better), (int)cw_feed_get_repeats(feed));
  g_assert_cmpfloat(fabs(cw_take_get_snr_db(better) - cw_take_get_snr_db(quiet) - 6 - won), <, 1.5);
  bench_close(&bench);
}

/* The same with markers: the next feed keeps its marker, and what level may not win is won by sweeps between
 * the two. */
static void test_noise_by_marker(void)
{
  Bench bench = bench_open();
  g_autoptr(GError) error = NULL;
  CwRecord *takes[2], *feed;

  g_assert_true(cw_job_plan_feed(bench.vehicle, 5, 1, -12, &error));
  for (int i = 0; i < 2; i++) {
    g_autoptr(CwRecording) recording = record(&bench, 5, "[]");
    CwPracticeNoise noise = {9};
    for (gsize k = 0; k < recording->frames; k++)
      recording->channel[0][k] += 0.08 * cw_practice_noise_next(&noise);
    g_autoptr(CwTakeOutcome) outcome = cw_job_analyse_take(bench.vehicle, 5, "driver/1", CW_TIMING_MARKER,
                                                           CW_PURPOSE_TUNING, recording, &error);
    g_assert_no_error(error);
    takes[i] = cw_job_store_take(bench.project, outcome);
    if (i == 0)
      g_free(cw_job_plan_next_feed(bench.vehicle, 5, -12, &error));
  }
  feed = cw_list_find_integer_at(cw_vehicle_get_feeds(bench.vehicle), CW_FEED_FIELD_OUTPUT, 5);
  g_test_message("SNR %.1f dB, then %.1f dB with %d sweeps", cw_take_get_snr_db(takes[0]),
                 cw_take_get_snr_db(takes[1]), (int)cw_feed_get_repeats(feed));
  g_assert_cmpint(cw_feed_get_marker_output(feed), ==, 1);
  g_assert_cmpint(cw_feed_get_repeats(feed), >, 1);
  g_assert_cmpfloat(fabs(cw_take_get_snr_db(takes[1]) - cw_take_get_snr_db(takes[0]) -
                         10 * log10((double)cw_feed_get_repeats(feed))),
                    <, 1.5);
  g_assert_true(cw_take_get_accepted(takes[1]));
  g_assert_false(cw_job_plan_repeated_feed(bench.vehicle, 5, 5, -12, 2, &error));
  g_assert_error(error, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
  bench_close(&bench);
}

static void test_good_and_clipped(void)
{
  Bench bench = bench_open();
  g_autoptr(GError) error = NULL;
  CwRecord *good = take(&bench, 3, "[]", 0);

  g_free(cw_job_plan_next_feed(bench.vehicle, 3, -6, &error));
  CwRecord *feed = cw_list_find_integer_at(cw_vehicle_get_feeds(bench.vehicle), CW_FEED_FIELD_OUTPUT, 3);
  g_assert_cmpfloat(cw_feed_get_level_dbfs(feed), ==, CW_FEED_LEVEL_DBFS);
  g_assert_cmpint(cw_feed_get_repeats(feed), ==, 1);
  cw_take_set_clipped(good, TRUE);
  g_free(cw_job_plan_next_feed(bench.vehicle, 3, -6, &error));
  g_assert_cmpfloat(cw_feed_get_level_dbfs(feed), ==, CW_FEED_LEVEL_DBFS - 6);
  g_assert_false(cw_job_plan_repeated_feed(bench.vehicle, 3, 0, -12, 9, &error));
  g_assert_error(error, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
  bench_close(&bench);
}

/* Three takes agree on the recorder's clock; one that seems to run otherwise was made with a moving
 * microphone. */
static void test_clock(void)
{
  g_autoptr(CwRecord) vehicle = cw_record_new(cw_vehicle_get_type());
  float impulse = 1;
  CwTakeResult result = {.impulse = &impulse, .player_ppm = 25};

  for (int i = 0; i < 3; i++) {
    CwRecord *take = cw_vehicle_add_to_takes(vehicle);
    g_autofree char *id = g_strdup_printf("%d", i);
    cw_take_set_id(take, id);
    cw_take_set_accepted(take, TRUE);
    g_assert_cmpuint(cw_job_check_take(vehicle, 1, "driver/1", CW_TIMING_MARKER, CW_PURPOSE_TUNING, &result),
                     ==, 0);
    cw_take_set_clock_ppm(take, 10 + 0.5 * i);
  }
  g_assert_cmpuint(cw_job_check_take(vehicle, 1, "driver/1", CW_TIMING_MARKER, CW_PURPOSE_TUNING, &result),
                   ==, CW_TAKE_MOVED);
  g_assert_cmpuint(cw_job_check_take(vehicle, 1, "driver/1", CW_TIMING_LOOPBACK, CW_PURPOSE_TUNING, &result),
                   ==, 0);
  result.player_ppm = 12;
  g_assert_cmpuint(cw_job_check_take(vehicle, 1, "driver/1", CW_TIMING_MARKER, CW_PURPOSE_TUNING, &result),
                   ==, 0);
}

/* A tweeter that is bent where it moves furthest: its second harmonic grows towards the low end. */
static void distort(CwRecording *recording, double amount)
{
  CwCoefficients low;
  g_assert_true(cw_section_design(&(CwSection){CW_SECTION_LOW_PASS, 1800, 0, 0.7}, recording->rate_hz, &low));
  g_autofree double *moved = g_memdup2(recording->channel[0], recording->frames * sizeof *moved);
  double most = 0;

  cw_cascade_run(&low, 1, moved, recording->frames);
  for (gsize i = 0; i < recording->frames; i++)
    most = fmax(most, fabs(moved[i]));
  for (gsize i = 0; i < recording->frames; i++)
    recording->channel[0][i] += amount * moved[i] * moved[i] / most;
}

static void test_distortion(void)
{
  Bench bench = bench_open();
  static const char *const positions[] = {"driver/1", "driver/2", "driver/3"};
  double lowest_hz = 2200;

  for (int i = 0; i < 3; i++) {
    g_autoptr(CwRecording) clean = record(&bench, 2, "[]"), bent = record(&bench, 1, "[]");
    distort(bent, 0.3);
    store(&bench, 2, positions[i], clean);
    store(&bench, 1, positions[i], bent);
  }
  CwCleanRange range = cw_job_clean_range(bench.vehicle, 1, lowest_hz);
  g_test_message("clean from %.0f Hz; %.1f %% at %.0f Hz", range.from_hz, range.worst_percent,
                 range.worst_hz);
  g_assert_cmpfloat(range.from_hz, >, lowest_hz);
  g_assert_cmpfloat(range.from_hz, <=, 2 * lowest_hz);
  g_assert_cmpfloat(range.worst_percent, >, 3);
  cw_job_find_measuring(bench.vehicle);
  g_assert_nonnull(
      cw_list_find_text_at(cw_vehicle_get_findings(bench.vehicle), CW_FINDING_FIELD_CODE, "distorts-low"));
  range = cw_job_clean_range(bench.vehicle, 2, lowest_hz);
  g_assert_cmpfloat(range.from_hz, ==, lowest_hz);
  g_assert_true(isnan(range.worst_percent));
  g_assert_cmpfloat(cw_job_clean_range(bench.vehicle, 5, 50).from_hz, ==, 50); /* without takes */
  bench_close(&bench);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/job/takes/wrong-speaker", test_wrong_speaker);
  g_test_add_func("/job/takes/noise", test_noise);
  g_test_add_func("/job/takes/noise-by-marker", test_noise_by_marker);
  g_test_add_func("/job/takes/good-and-clipped", test_good_and_clipped);
  g_test_add_func("/job/takes/distortion", test_distortion);
  g_test_add_func("/job/takes/clock", test_clock);
  return g_test_run();
}
