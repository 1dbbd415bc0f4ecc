/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's noise: counted by the second as the two rules say, kept over a restart, not counted where nothing
 * real sounds. */
#include "window/sound/exposure_clock.h"
#include "window/state/settings.h"

#include <glib/gstdio.h>
#include <math.h>

#define RATE_HZ 48000
#define BLOCK 480
#define SPL_AT_FULL_SCALE 120.0

typedef struct {
  CwSoundClient *client;
  CwSession *session;
  CwSoundDesk *desk;
  CwExposureClock *clock;
  char *folder, *path;
} Bench;

static void bench_open(Bench *bench)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_record_new(cw_vehicle_get_type());
  *bench = (Bench){.client = cw_sound_client_new("/nonexistent"),
                   .folder = g_dir_make_tmp("exposure-XXXXXX", NULL)};
  cw_vehicle_set_reference(vehicle, "noise");
  cw_microphone_set_spl_at_full_scale(cw_vehicle_make_microphone(vehicle), SPL_AT_FULL_SCALE);
  bench->path = g_build_filename(bench->folder, "car.cabin", NULL);
  g_autoptr(CwProject) project = cw_project_create(bench->path, vehicle, &error);
  g_assert_no_error(error);
  bench->session = cw_session_new(bench->client);
  cw_session_set_project(bench->session, project);
  bench->desk = cw_sound_desk_new(bench->client);
  cw_sound_desk_set_device(bench->desk, "ALSA: a real one");
  bench->clock = cw_exposure_clock_at(bench->desk);
  g_assert_true(cw_exposure_clock_at(bench->desk) == bench->clock);
  cw_exposure_clock_set_session(bench->clock, bench->session);
}

static void bench_close(Bench *bench)
{
  cw_session_set_project(bench->session, NULL);
  g_object_unref(bench->desk);
  g_object_unref(bench->session);
  g_object_unref(bench->client);
  g_unlink(bench->path);
  g_rmdir(bench->folder);
  g_free(bench->path);
  g_free(bench->folder);
}

/* A tone of 1 kHz, whose level is the same flat and A-weighted, in the first of two channels. */
static void hear(Bench *bench, double spl, double seconds)
{
  float sample[2 * BLOCK] = {0};
  double level = pow(10, (spl - SPL_AT_FULL_SCALE) / 20);
  for (int i = 0; i < BLOCK; i++)
    sample[2 * i] = (float)(level * sin(2 * G_PI * 1000 * i / RATE_HZ));
  CwAudioChunk chunk = {0, 2, BLOCK, sample};
  for (int i = 0; i < (int)lrint(seconds * RATE_HZ / BLOCK); i++)
    g_signal_emit_by_name(bench->client, "live-block", &chunk);
  g_signal_emit_by_name(bench->client, "state-changed");
}

/* NIOSH 98-126, table 1-1: 94 dBA for an hour is the day's allowance; OSHA 1910.95, table G-16: 95 dBA for
 * four hours. */
static void test_counted(void)
{
  Bench bench;
  bench_open(&bench);
  double before = cw_exposure_clock_get_today(bench.clock)->niosh_percent;
  hear(&bench, 94, 360);
  const CwExposure *today = cw_exposure_clock_get_today(bench.clock);
  g_test_message("six minutes at 94 dBA: %.3f %%", today->niosh_percent - before);
  g_assert_cmpfloat(fabs(today->niosh_percent - before - 10), <, 0.3);
  double osha = today->osha_percent;
  hear(&bench, 95, 144);
  g_assert_cmpfloat(fabs(today->osha_percent - osha - 1), <, 0.02);
  double niosh = today->niosh_percent, seconds = today->seconds;
  hear(&bench, 70, 30);
  g_assert_cmpfloat(today->niosh_percent, ==, niosh);
  g_assert_cmpfloat(fabs(today->seconds - seconds - 30), <, 1e-6);
  bench_close(&bench);
}

static void test_restart(void)
{
  Bench bench;
  bench_open(&bench);
  hear(&bench, 100, 20.5);
  CwExposure before = *cw_exposure_clock_get_today(bench.clock);
  g_assert_cmpfloat(before.niosh_percent, >, 0);
  bench_close(&bench);
  bench_open(&bench);
  const CwExposure *after = cw_exposure_clock_get_today(bench.clock);
  g_assert_cmpfloat(fabs(after->niosh_percent - before.niosh_percent), <, 1e-5);
  g_assert_cmpfloat(fabs(after->osha_percent - before.osha_percent), <, 1e-5);
  g_assert_cmpfloat(fabs(after->seconds - before.seconds), <, 1e-5);
  bench_close(&bench);
}

static void check_begins_at_nothing(const char *kept)
{
  Bench bench;
  g_settings_set_string(cw_settings_get(), "exposure", kept);
  bench_open(&bench);
  g_assert_cmpfloat(cw_exposure_clock_get_today(bench.clock)->seconds, ==, 0);
  g_assert_cmpfloat(cw_exposure_clock_get_today(bench.clock)->niosh_percent, ==, 0);
  bench_close(&bench);
}

/* Another day, and what anybody may have written. */
static void test_other_day(void)
{
  g_autoptr(GDateTime) now = g_date_time_new_now_local();
  g_autofree char *today = g_date_time_format(now, "%Y-%m-%d");
  static const char *const wrong[] = {"", "nan 1 2", "-5 1 2", "1 1", "1 2 3 4", "1e300 1 1"};
  check_begins_at_nothing("2001-01-01 100 50 50");
  check_begins_at_nothing("rubbish");
  for (guint i = 0; i < G_N_ELEMENTS(wrong); i++) {
    g_autofree char *kept = g_strdup_printf("%s %s", today, wrong[i]);
    check_begins_at_nothing(kept);
  }
}

static void test_not_counted(void)
{
  Bench bench;
  g_settings_set_string(cw_settings_get(), "exposure", "");
  bench_open(&bench);
  cw_sound_desk_set_device(bench.desk, CW_SOUND_PRACTICE_DEVICE);
  hear(&bench, 110, 10);
  g_assert_cmpfloat(cw_exposure_clock_get_today(bench.clock)->seconds, ==, 0);
  cw_sound_desk_set_device(bench.desk, "ALSA: a real one");
  cw_microphone_set_spl_at_full_scale(cw_vehicle_get_microphone(cw_session_get_vehicle(bench.session)), NAN);
  hear(&bench, 110, 10);
  g_assert_cmpfloat(cw_exposure_clock_get_today(bench.clock)->niosh_percent, ==, 0);
  bench_close(&bench);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  if (!cw_settings_get()) {
    g_printerr("no schema\n");
    return 77;
  }
  g_test_add_func("/exposure-clock/counted", test_counted);
  g_test_add_func("/exposure-clock/restart", test_restart);
  g_test_add_func("/exposure-clock/other-day", test_other_day);
  g_test_add_func("/exposure-clock/not-counted", test_not_counted);
  return g_test_run();
}
