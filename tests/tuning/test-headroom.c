/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/headroom/headroom.h"
#include "signal/log_grid.h"
#include <glib.h>
#include <math.h>

enum { POINTS = 480 };

/* A path of which nothing is known but what the test sets. */
static CwOutputPath unknown_path(void)
{
  CwOutputPath path = {
      .mix = 1, .volts_at_full_scale = NAN, .amplifier_volts = NAN, .speaker_volts = NAN, .cone = {NAN}};
  for (int k = 0; k < CW_HEADROOM_BANDS; k++)
    path.clean_db[k] = NAN;
  return path;
}

static CwMusicRoom room_of(const CwOutputPath *path, double level_db)
{
  double hz[POINTS], db[POINTS];

  cw_log_grid_fill(20, 48, POINTS, hz);
  for (int i = 0; i < POINTS; i++)
    db[i] = level_db;
  return cw_headroom_for_music(hz, db, POINTS, path);
}

/* By hand: the bass of music stands 6 dB below a full-scale sine, its long mean 12 dB. */
static void test_music(void)
{
  CwOutputPath path = unknown_path();

  g_assert_cmpfloat_with_epsilon(room_of(&path, 0).room_db, 6, 1e-9);
  g_assert_cmpint(room_of(&path, 0).by, ==, CW_LIMIT_PROCESSOR);
  g_assert_cmpfloat_with_epsilon(room_of(&path, 9).room_db, -3, 1e-9);
  path.mix = 2; /* a bass that is fed by both inputs */
  g_assert_cmpfloat_with_epsilon(room_of(&path, 0).room_db, 6 - 20 * log10(2), 1e-9);
  /* 40 W of 4 ohm on a channel whose full scale is 640 W: 12.04 dB, of which music's long mean takes none. */
  path = unknown_path();
  path.volts_at_full_scale = path.amplifier_volts = sqrt(640 * 4.0);
  path.speaker_volts = sqrt(40 * 4.0);
  g_assert_cmpfloat_with_epsilon(room_of(&path, 0).room_db, 12 - 10 * log10(640.0 / 40), 1e-9);
  g_assert_cmpint(room_of(&path, 0).by, ==, CW_LIMIT_POWER);
  /* Distortion at one frequency alone. */
  path = unknown_path();
  path.clean_db[15] = -20; /* 630 Hz, where music stands 10 dB down */
  g_assert_cmpfloat_with_epsilon(room_of(&path, 0).room_db, -10, 1e-9);
  g_assert_cmpfloat(room_of(&path, 0).hz, ==, 630);
  g_assert_cmpint(room_of(&path, 0).by, ==, CW_LIMIT_DISTORTION);
}

/* Turned down by what is missing, nothing is missing; and less room in every dB more. */
static void test_turned_down(void)
{
  CwOutputPath path = unknown_path();

  path.volts_at_full_scale = path.amplifier_volts = 20;
  path.speaker_volts = 3;
  double room_db = room_of(&path, 0).room_db;
  g_assert_cmpfloat(room_db, <, 0);
  g_assert_cmpfloat_with_epsilon(room_of(&path, room_db).room_db, 0, 1e-9);
  for (double level_db = -10; level_db < 10; level_db++)
    g_assert_cmpfloat_with_epsilon(room_of(&path, level_db).room_db, room_db - level_db, 1e-9);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/headroom/music", test_music);
  g_test_add_func("/headroom/turned-down", test_turned_down);
  return g_test_run();
}
