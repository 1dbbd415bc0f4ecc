/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mixed.h"
#include "survey/mix/correction_fit.h"

#include <string.h>

static CwLimits limits_of(double gain_step_db, double steps_per_octave, double q_step)
{
  CwLimits limits = cw_limits_wide(RATE_HZ);
  limits.gain_step_db = gain_step_db;
  limits.frequency_steps_per_octave = steps_per_octave;
  limits.q_step = q_step;
  return limits;
}

/* Decibels of some sections at all points. */
static void level_of(const CwSection *section, size_t sections, double *db)
{
  memset(db, 0, CW_SURVEY_POINTS * sizeof *db);
  for (size_t s = 0; s < sections; s++) {
    CwCoefficients c;
    g_assert_true(cw_section_design(&section[s], RATE_HZ, &c));
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      db[i] += 20 * log10(cabs(cw_coefficients_response(&c, cw_mix_hz(i), RATE_HZ)));
  }
}

/* A section's decibels are its response's; one that cannot be designed does nothing. */
static void test_section_db(void)
{
  CwSection section = {CW_SECTION_PEAKING, 1000, 5, 2}, wrong = {CW_SECTION_PEAKING, 30000, 5, 2};
  double db[CW_SURVEY_POINTS];
  level_of(&section, 1, db);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    g_assert_cmpfloat_with_epsilon(cw_flat_section_db(&section, RATE_HZ, cw_mix_hz(i)), db[i], 1e-9);
  g_assert_cmpfloat_with_epsilon(cw_flat_section_db(&section, RATE_HZ, 1000), 5, 1e-9);
  g_assert_cmpfloat(cw_flat_section_db(&wrong, RATE_HZ, 1000), ==, 0);
}

/* The mean level, and the furthest from it of means in power of three points by 1, 2, 1: a single point 6 dB
 * up is half of its own power and a quarter of each neighbour's. */
static void test_worst(void)
{
  double db[CW_SURVEY_POINTS] = {0}, level;
  size_t where = 99;
  g_assert_cmpfloat(cw_flat_worst_db(db, 0, CW_SURVEY_POINTS - 1, &level, NULL), ==, 0);
  g_assert_cmpfloat(level, ==, 0);
  db[50] = 6;
  double mean = 6.0 / 41, top = 10 * log10(0.5 + 0.5 * pow(10, 0.6));
  g_assert_cmpfloat_with_epsilon(cw_flat_worst_db(db, 30, 70, &level, &where), top - mean, 1e-9);
  g_assert_cmpfloat_with_epsilon(level, mean, 1e-12);
  g_assert_cmpuint(where, ==, 50);
  db[50] = 0;
  db[30] = -8; /* at an end it is its own neighbour */
  mean = -8.0 / 41;
  top = 10 * log10(0.25 + 0.75 * pow(10, -0.8));
  g_assert_cmpfloat_with_epsilon(cw_flat_worst_db(db, 30, 70, NULL, &where), mean - top, 1e-9);
  g_assert_cmpuint(where, ==, 30);
}

/* What peaks and dips made uneven, their opposites make flat, to the deviation below which no section more is
 * worth it; the worst that is told is that of what was set. */
static void test_opposites(void)
{
  CwLimits limits = limits_of(0, 0, 0);
  for (unsigned round = 0; round < 20; round++) {
    CwSection made[3], section[CW_CORRECT_MOST_SECTIONS];
    double db[CW_SURVEY_POINTS], fitted[CW_SURVEY_POINTS];
    size_t sections = 0;
    for (size_t s = 0; s < 3; s++)
      made[s] =
          (CwSection){CW_SECTION_PEAKING, 100 * pow(6, (double)s) * g_test_rand_double_range(0.8, 1.25),
                      (round + s) % 2 ? -g_test_rand_double_range(2, 5) : g_test_rand_double_range(2, 8),
                      g_test_rand_double_range(0.7, 3)};
    level_of(made, 3, db);
    CwFlatProblem problem = {.db = db,
                             .curves = 1,
                             .first = 6,
                             .last = 112,
                             .low_hz = 25,
                             .high_hz = 16000,
                             .limits = &limits,
                             .most = 8};
    double worst = cw_flat_fit(&problem, section, &sections);
    g_assert_cmpfloat(worst, <, CW_CORRECT_ENOUGH_DB);
    level_of(section, sections, fitted);
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      fitted[i] += db[i];
    g_assert_cmpfloat_with_epsilon(cw_flat_worst_db(fitted, 6, 112, NULL, NULL), worst, 1e-6);
  }
}

/* Everything stays where it may be: on the processor's steps, within its limits and the range, no more
 * sections than allowed, no more boost than 9 dB, however much is asked for. */
static void test_limits(void)
{
  CwLimits limits = limits_of(0.5, 12, 0.1);
  for (size_t most = 0; most <= 4; most++) {
    CwSection made[] = {{CW_SECTION_PEAKING, 400, -20, 1}, {CW_SECTION_PEAKING, 3000, 14, 4}},
              section[CW_CORRECT_MOST_SECTIONS];
    double db[CW_SURVEY_POINTS], fitted[CW_SURVEY_POINTS];
    size_t sections = 0;
    level_of(made, 2, db);
    CwFlatProblem problem = {.db = db,
                             .curves = 1,
                             .first = 12,
                             .last = 112,
                             .low_hz = 60,
                             .high_hz = 9000,
                             .limits = &limits,
                             .most = most};
    cw_flat_fit(&problem, section, &sections);
    g_assert_cmpuint(sections, <=, most);
    level_of(section, sections, fitted);
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      g_assert_cmpfloat(fitted[i], <, CW_CORRECT_MOST_BOOST_DB + 0.5); /* leans; the wall comes after */
    for (size_t s = 0; s < sections; s++) {
      g_assert_cmpfloat(section[s].gain_db, >=, limits.section_gain_least_db);
      g_assert_cmpfloat(section[s].gain_db, <=, limits.section_gain_most_db);
      g_assert_cmpfloat_with_epsilon(section[s].gain_db / 0.5, rint(section[s].gain_db / 0.5), 1e-9);
      g_assert_cmpfloat_with_epsilon(section[s].q / 0.1, rint(section[s].q / 0.1), 1e-6);
      g_assert_cmpfloat(section[s].q, >=, limits.q_least - 1e-9);
      double step = 12 * log2(section[s].frequency_hz / 1000);
      g_assert_cmpfloat_with_epsilon(step, rint(step), 1e-6);
      g_assert_cmpfloat(section[s].frequency_hz, >, 60 * exp2(-1.0 / 24));
      g_assert_cmpfloat(section[s].frequency_hz, <, 9000 * exp2(1.0 / 24));
    }
  }
}

/* A flat curve, and one at any level, ask for nothing. */
static void test_nothing_to_do(void)
{
  CwLimits limits = limits_of(0.1, 0, 0);
  double db[CW_SURVEY_POINTS];
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    db[i] = -23.7;
  CwSection section[CW_CORRECT_MOST_SECTIONS];
  size_t sections = 0;
  CwFlatProblem problem = {.db = db,
                           .curves = 1,
                           .first = 12,
                           .last = 112,
                           .low_hz = 60,
                           .high_hz = 9000,
                           .limits = &limits,
                           .most = 5};
  g_assert_cmpfloat(cw_flat_fit(&problem, section, &sections), <, 1e-9);
  g_assert_cmpuint(sections, ==, 0);
}

/* Two curves that share their sections get what is best for both: half of what parts them is left. */
static void test_two_curves(void)
{
  CwLimits limits = limits_of(0, 0, 0);
  CwSection one = {CW_SECTION_PEAKING, 800, 6, 1.5}, other = {CW_SECTION_PEAKING, 800, 2, 1.5},
            section[CW_CORRECT_MOST_SECTIONS];
  double db[2 * CW_SURVEY_POINTS];
  size_t sections = 0;
  level_of(&one, 1, db);
  level_of(&other, 1, db + CW_SURVEY_POINTS);
  CwFlatProblem problem = {.db = db,
                           .curves = 2,
                           .first = 12,
                           .last = 112,
                           .low_hz = 60,
                           .high_hz = 9000,
                           .limits = &limits,
                           .most = 5};
  double worst = cw_flat_fit(&problem, section, &sections);
  g_assert_cmpuint(sections, >, 0);
  g_assert_cmpfloat_with_epsilon(worst, 2, 0.35); /* less the mean over the range, and sixth-octave means */
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/correction-fit/section-db", test_section_db);
  g_test_add_func("/survey/correction-fit/worst", test_worst);
  g_test_add_func("/survey/correction-fit/opposites", test_opposites);
  g_test_add_func("/survey/correction-fit/limits", test_limits);
  g_test_add_func("/survey/correction-fit/nothing-to-do", test_nothing_to_do);
  g_test_add_func("/survey/correction-fit/two-curves", test_two_curves);
  return g_test_run();
}
