/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The microphone's level from a calibrator, and how loud a recording is. Expected values: the tones' own
 * amplitudes; the weightings' table 3 and the tone-burst responses' table 4 of IEC 61672-1:2013. */
#include "job/sheet/microphone.h"
#include "job/sheet/sound_level.h"
#include "signal/random.h"
#include <math.h>

#define RATE_HZ 48000.0

static CwRecord *new_vehicle(void)
{
  CwRecord *vehicle = cw_record_new(cw_vehicle_get_type());
  cw_microphone_set_spl_at_full_scale(cw_vehicle_make_microphone(vehicle), 120);
  return vehicle;
}

static CwRecording *new_tone(double hz, double amplitude, double seconds)
{
  CwRecording *r = cw_recording_new(RATE_HZ, 1, (gsize)(seconds * RATE_HZ));
  for (gsize i = 0; i < r->frames; i++)
    r->channel[0][i] = amplitude * sin(2 * G_PI * hz / RATE_HZ * (double)i + 0.3);
  return r;
}

static void add_noise(CwRecording *r, double rms)
{
  CwRandom random = cw_random_new(11);
  for (gsize i = 0; i < r->frames; i++)
    r->channel[0][i] += rms * cw_random_normal(&random);
}

static double level_of(CwRecord *vehicle)
{
  return cw_microphone_get_spl_at_full_scale(cw_vehicle_get_microphone(vehicle));
}

/* At any amplitude, either tone, a little off in frequency, with an offset and some noise: within 0.05 dB. */
static void test_calibrator(void)
{
  static const double tones[] = {1000, 993.7, 1012.3, 250, 251.9};

  for (gsize i = 0; i < G_N_ELEMENTS(tones); i++)
    for (double amplitude = 0.003; amplitude < 0.9; amplitude *= 3.7) {
      g_autoptr(CwRecord) vehicle = new_vehicle();
      g_autoptr(CwRecording) r = new_tone(tones[i], amplitude, 4);
      g_autoptr(GError) error = NULL;
      CwCalibratorReading reading;
      add_noise(r, 0.01 * amplitude);
      for (gsize k = 0; k < r->frames; k++)
        r->channel[0][k] += 0.002;
      g_assert_true(cw_job_set_sensitivity(vehicle, r, 94, &reading, &error));
      g_assert_no_error(error);
      g_assert_cmpfloat(fabs(level_of(vehicle) - (94 - 20 * log10(amplitude))), <, 0.05);
      g_assert_cmpfloat(fabs(reading.hz - tones[i]), <, 0.2);
    }
}

/* A take analysed with the curve must show the calibrator at its level, so what the curve adds at the tone
 * counts. */
static void test_calibrator_with_curve(void)
{
  g_autoptr(CwRecord) vehicle = new_vehicle();
  g_autoptr(CwRecording) r = new_tone(1000, 0.1, 3);
  const double hz[] = {20, 1000, 20000}, db[] = {0, 1.5, 3};
  g_autoptr(CwNumbers) curve = cw_numbers_new_curve(3, hz, db);

  cw_job_set_calibration(vehicle, CW_INCIDENCE_0, curve);
  g_assert_true(cw_job_set_sensitivity(vehicle, r, 94, NULL, NULL));
  g_assert_cmpfloat(fabs(level_of(vehicle) - (94 + 20 + 1.5)), <, 0.02);
  CwSoundLevel level = cw_job_sound_level(vehicle, r);
  g_assert_cmpfloat(fabs(level.flat_db - 94), <, 0.05);
}

static void refuse(CwRecording *r, double level_db, const char *words)
{
  g_autoptr(CwRecord) vehicle = new_vehicle();
  g_autoptr(GError) error = NULL;
  g_assert_false(cw_job_set_sensitivity(vehicle, r, level_db, NULL, &error));
  g_assert_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING);
  if (!strstr(error->message, words))
    g_error("said \"%s\", expected \"%s\"", error->message, words);
  g_assert_cmpfloat(level_of(vehicle), ==, 120);
  cw_recording_free(r);
}

static void test_calibrator_refused(void)
{
  CwRecording *late = new_tone(1000, 0.1, 4), *noisy = new_tone(1000, 0.1, 4), *loud = new_tone(1000, 1.4, 4);

  for (gsize i = 0; i < late->frames / 2; i++)
    late->channel[0][i] *= 0.05;
  add_noise(noisy, 0.02);
  for (gsize i = 0; i < loud->frames; i++)
    loud->channel[0][i] = CLAMP(loud->channel[0][i], -1, 1);
  refuse(new_tone(1000, 0.1, 1), 94, "two seconds");
  refuse(new_tone(1000, 0, 4), 94, "silent");
  refuse(new_tone(440, 0.1, 4), 94, "1 kHz or 250 Hz");
  refuse(new_tone(1000, 0.1, 4), 20, "a level from");
  refuse(late, 94, "not steady");
  refuse(noisy, 94, "other sound");
  refuse(loud, 94, "clipped");
}

static void test_two_curves(void)
{
  g_autoptr(CwRecord) vehicle = new_vehicle();
  const double hz[] = {20, 20000}, front[] = {0, 2}, side[] = {0, -6};
  g_autoptr(CwNumbers) at_0 = cw_numbers_new_curve(2, hz, front), at_90 = cw_numbers_new_curve(2, hz, side);
  CwRecord *microphone = cw_vehicle_get_microphone(vehicle);

  cw_job_set_calibration(vehicle, CW_INCIDENCE_0, at_0);
  g_assert_true(cw_numbers_equal(cw_job_microphone_curve(vehicle), at_0));
  cw_microphone_set_incidence(microphone, CW_INCIDENCE_90);
  g_assert_true(cw_numbers_equal(cw_job_microphone_curve(vehicle), at_0)); /* it has no other yet */
  cw_job_set_calibration(vehicle, CW_INCIDENCE_90, at_90);
  g_assert_true(cw_numbers_equal(cw_job_microphone_curve(vehicle), at_90));
  cw_microphone_set_incidence(microphone, CW_INCIDENCE_0);
  g_assert_true(cw_numbers_equal(cw_job_microphone_curve(vehicle), at_0));
}

static void test_weighted_levels(void)
{
  static const struct {
    double hz, a_db, c_db;
  } rows[] = {{63, -26.2, -0.8}, {125, -16.1, -0.2}, {1000, 0, 0}, {4000, 1.0, -0.8}, {8000, -1.1, -3.0}};
  g_autoptr(CwRecord) vehicle = new_vehicle();

  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    double exact = 1000 * pow(10, round(10 * log10(rows[i].hz / 1000)) /
                                      10); /* the table's nominal frequencies stand for these */
    g_autoptr(CwRecording) r = new_tone(exact, 0.1, 4);
    CwSoundLevel level = cw_job_sound_level(vehicle, r);
    g_assert_cmpfloat(fabs(level.flat_db - 100), <, 0.02);
    g_assert_cmpfloat(fabs(level.a_db - (100 + rows[i].a_db)), <, 0.1);
    g_assert_cmpfloat(fabs(level.c_db - (100 + rows[i].c_db)), <, 0.1);
    g_assert_cmpfloat(fabs(level.a_fast_most_db - level.a_db), <, 0.2);
    g_assert_cmpfloat(fabs(level.niosh_hours - 8 * pow(2, (85 - level.a_db) / 3)), <, 1e-9);
    for (int b = 0; b < CW_SOUND_LEVEL_BANDS; b++)
      if (fabs(log2(level.hz[b] / exact)) < 0.01)
        g_assert_cmpfloat(fabs(level.band_db[b] - 100), <, 0.1);
  }
}

/* A 4 kHz burst of 200 ms reads 1.0 dB below the steady tone with time weighting fast, one of 50 ms 4.8 dB.
 */
static void test_fast_bursts(void)
{
  static const double bursts[][2] = {{0.2, -1.0}, {0.05, -4.8}, {1, 0}};
  g_autoptr(CwRecord) vehicle = new_vehicle();

  for (gsize i = 0; i < G_N_ELEMENTS(bursts); i++) {
    g_autoptr(CwRecording) r = new_tone(4000, 0.1, 3);
    for (gsize k = 0; k < r->frames; k++) {
      double seconds = (double)k / RATE_HZ - 1.5;
      r->channel[0][k] *= seconds >= 0 && seconds < bursts[i][0];
    }
    CwSoundLevel level = cw_job_sound_level(vehicle, r);
    g_assert_cmpfloat(fabs(level.a_fast_most_db - (101.0 + bursts[i][1])), <, 0.15);
  }
}

static void test_unknown_level(void)
{
  g_autoptr(CwRecord) vehicle = cw_record_new(cw_vehicle_get_type());
  g_autoptr(CwRecording) r = cw_recording_new(32000, 1, 64000);
  CwSoundLevel level = cw_job_sound_level(vehicle, r);

  g_assert_false(level.calibrated);
  g_assert_true(isnan(level.a_fast_most_db) && isnan(level.band_db[CW_SOUND_LEVEL_BANDS - 1]));
  g_autofree char *json = cw_sound_level_to_json(&level);
  g_assert_nonnull(strstr(json, "null"));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/job/microphone/calibrator", test_calibrator);
  g_test_add_func("/job/microphone/calibrator-with-curve", test_calibrator_with_curve);
  g_test_add_func("/job/microphone/calibrator-refused", test_calibrator_refused);
  g_test_add_func("/job/microphone/two-curves", test_two_curves);
  g_test_add_func("/job/microphone/weighted-levels", test_weighted_levels);
  g_test_add_func("/job/microphone/fast-bursts", test_fast_bursts);
  g_test_add_func("/job/microphone/unknown-level", test_unknown_level);
  return g_test_run();
}
