/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The factory radios of the two invented vehicles. */
#include "simulator/practice_radio.h"

#include <string.h>

/* clang-format off */
#define HIGH_PASS(hz, q) {CW_SECTION_HIGH_PASS, hz, 0, q}
#define PEAK(hz, db, q) {CW_SECTION_PEAKING, hz, db, q}
#define LOW_SHELF(hz, db) {CW_SECTION_LOW_SHELF, hz, db, 0.7071}
#define HIGH_SHELF(hz, db) {CW_SECTION_HIGH_SHELF, hz, db, 0.7071}
#define ALL_PASS(hz, q) {CW_SECTION_ALL_PASS, hz, 0, q}

/* Four full-range doors and a centre in the dash; right-hand drive, so the seat setting delays the right. */
static const CwPracticeRadio alder_tourer = {
    .car = "alder-tourer",
    .full_scale_v = 17.5,
    .rail_v = 9.4,
    .knee = 0.08,
    .step_db = 1.5,
    .survey_step = 20,
    .quiet_step = 12,
    .loud_step = 30,
    .lift_hz = 90,
    .lift_most_db = 7,
    .lift_step_db = 0.55,
    .lift_below_step = 22,
    .player_ppm = 63.4,
    .hum_v = 0.004,
    .hum_hz = 50.02,
    .leads = 5,
    .lead = {
        {1, 0, -1, 0, FALSE, 0, 0, 2.4e-4, 5,
         {HIGH_PASS(34, 0.7071), LOW_SHELF(110, 3.1), PEAK(260, -3.4, 1.6), PEAK(2900, 2.6, 1.2), HIGH_SHELF(8200, -2.8)}},
        {0, 1, -1, 0, FALSE, 0, 0.94, 2.0e-4, 5,
         {HIGH_PASS(34, 0.7071), LOW_SHELF(110, 3.1), PEAK(245, -2.9, 1.6), PEAK(2900, 2.6, 1.2), HIGH_SHELF(8200, -2.8)}},
        {1, 0, 1, -2.2, FALSE, 6.3, 0, 3.1e-4, 3, {HIGH_PASS(72, 0.7071), PEAK(1750, -2.1, 0.9), ALL_PASS(980, 0.9)}},
        {0, 1, 1, -2.2, TRUE, 6.3, 0.94, 2.6e-4, 2, {HIGH_PASS(72, 0.7071), PEAK(1750, -2.1, 0.9)}},
        {0.5, 0.5, -1, -4.5, FALSE, 0.4, 0, 2.2e-4, 3, {HIGH_PASS(190, 0.7071), PEAK(1250, 3.2, 1.4), PEAK(5200, -2.2, 2)}},
    }};

/* Two door leads, one of them wired the wrong way round, treble lifted for small speakers. */
static const CwPracticeRadio rowan_van = {
    .car = "rowan-van",
    .full_scale_v = 19,
    .rail_v = 7.9,
    .knee = 0,
    .step_db = 1.25,
    .survey_step = 22,
    .quiet_step = 12,
    .loud_step = 36,
    .player_ppm = -88.7,
    .hum_v = 0.009,
    .hum_hz = 49.97,
    .leads = 2,
    .lead = {
        {1, 0, 0, 0, FALSE, 0, 0, 3.4e-4, 4, {HIGH_PASS(46, 0.65), PEAK(125, 3.8, 1.1), PEAK(820, -2.7, 1.3), HIGH_SHELF(5200, 3.3)}},
        {0, 1, 0, -0.6, TRUE, 0, 0, 2.9e-4, 4, {HIGH_PASS(48, 0.65), PEAK(125, 3.8, 1.1), PEAK(820, -2.7, 1.3), HIGH_SHELF(5200, 3.3)}},
    }};

/* clang-format on */
const CwPracticeRadio *cw_practice_radio_of(const char *car)
{
  static const CwPracticeRadio *const radios[] = {&alder_tourer, &rowan_van};
  for (guint i = 0; i < G_N_ELEMENTS(radios); i++)
    if (strcmp(radios[i]->car, car) == 0)
      return radios[i];
  return NULL;
}
