/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/target_points.h"

#include <math.h>

static CwNumbers *three_points(void)
{
  const double hz[] = {20, 200, 2000}, db[] = {6, 0, -3};
  return cw_numbers_new_curve(3, hz, db);
}

static void check_rises(const CwNumbers *target)
{
  for (guint i = 0; i < target->n_rows; i++) {
    g_assert_cmpfloat(cw_numbers_at(target, i, 0), >=, CW_TARGET_LOWEST_HZ);
    g_assert_cmpfloat(cw_numbers_at(target, i, 0), <=, CW_TARGET_HIGHEST_HZ);
    g_assert_cmpfloat(fabs(cw_numbers_at(target, i, 1)), <=, CW_TARGET_MOST_DB);
    if (i)
      g_assert_cmpfloat(cw_numbers_at(target, i, 0), >, cw_numbers_at(target, i - 1, 0));
  }
}

/* A point goes where it is put, the others stay; it passes neither its neighbours nor the ends. */
static void test_move(void)
{
  g_autoptr(CwNumbers) target = three_points();
  g_autoptr(CwNumbers) moved = cw_target_move(target, 1, 500, 2.34);
  g_assert_cmpfloat(cw_numbers_at(moved, 1, 0), ==, 500);
  g_assert_cmpfloat_with_epsilon(cw_numbers_at(moved, 1, 1), 2.3, 1e-9);
  g_assert_cmpfloat(cw_numbers_at(moved, 0, 1), ==, 6);
  g_assert_cmpfloat(cw_numbers_at(moved, 2, 0), ==, 2000);
  const double places[] = {-5, 0, 1, 20, 2000, 1e9, 30000};
  for (guint point = 0; point < 3; point++)
    for (guint i = 0; i < G_N_ELEMENTS(places); i++) {
      g_autoptr(CwNumbers) pushed = cw_target_move(target, point, places[i], 1000 - 500.0 * i);
      g_assert_cmpuint(pushed->n_rows, ==, 3);
      check_rises(pushed);
    }
}

/* A point that is added on the curve leaves the curve as it was, and taken away again the points too. */
static void test_add_and_remove(void)
{
  g_autoptr(CwNumbers) target = three_points();
  guint point;
  double between_db = cw_target_level_db(target, 63);
  g_assert_cmpfloat_with_epsilon(between_db, 6 - 6 * log10(63.0 / 20),
                                 1e-9); /* a straight line a decade long */
  g_autoptr(CwNumbers) more = cw_target_add(target, 63, between_db, &point);
  g_assert_cmpuint(point, ==, 1);
  check_rises(more);
  for (double hz = 15; hz < 20000; hz *= 1.3)
    g_assert_cmpfloat_with_epsilon(cw_target_level_db(more, hz), cw_target_level_db(target, hz), 0.06);
  g_autoptr(CwNumbers) again = cw_target_remove(more, 1);
  g_assert_true(cw_numbers_equal(again, target));
  g_autoptr(CwNumbers) below = cw_target_add(target, 12, 3, &point);
  g_assert_cmpuint(point, ==, 0);
  g_autoptr(CwNumbers) above = cw_target_add(target, 9000, 3, &point);
  g_assert_cmpuint(point, ==, 3);
  check_rises(above);
  g_autoptr(CwNumbers) last = cw_target_remove(above, 3);
  g_assert_true(cw_numbers_equal(last, target));
}

/* No room beside a point, and two are the least. */
static void test_limits(void)
{
  g_autoptr(CwNumbers) target = three_points();
  guint point = 77;
  g_assert_null(cw_target_add(target, 200, 0, &point));
  g_assert_null(cw_target_add(target, 203, 0, &point));
  g_assert_cmpuint(point, ==, 77);
  g_autoptr(CwNumbers) two = cw_target_remove(target, 0);
  g_assert_cmpuint(two->n_rows, ==, 2);
  g_assert_null(cw_target_remove(two, 0));
  g_assert_null(cw_target_remove(target, 3));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/window/target/move", test_move);
  g_test_add_func("/window/target/add-and-remove", test_add_and_remove);
  g_test_add_func("/window/target/limits", test_limits);
  return g_test_run();
}
