/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the microphone is held. Expected: the places that the practice bay puts it to, and what makes places
 * useful: no two alike, none in one plane with all others, all within the head's reach. */
#include "job/takes/positions.h"
#include "simulator/practice_car.h"
#include <math.h>

static void test_bay_agrees(void)
{
  const char *const names[] = {"alder-tourer", "rowan-van"};
  for (guint n = 0; n < G_N_ELEMENTS(names); n++) {
    CwPracticeCar *car = cw_practice_car_built_in(names[n]);
    g_assert_nonnull(car);
    for (guint seat = 0; seat < car->seats; seat++)
      for (guint k = 1; k <= CW_POSITION_PLACES; k++) {
        const CwPositionPlace *place = cw_job_position_place(k);
        CwPracticePoint at = cw_practice_car_position(car, seat, k - 1), head = car->seat[seat].head;
        g_assert_cmpfloat(fabs(100 * (at.x_m - head.x_m) - place->right_cm), <, 1e-9);
        g_assert_cmpfloat(fabs(100 * (at.y_m - head.y_m) - place->forward_cm), <, 1e-9);
        g_assert_cmpfloat(fabs(100 * (at.z_m - head.z_m) - place->up_cm), <, 1e-9);
      }
    cw_practice_car_free(car);
  }
}

static void test_places_differ(void)
{
  for (guint k = 1; k <= CW_POSITION_PLACES; k++) {
    const CwPositionPlace *one = cw_job_position_place(k);
    g_assert_cmpfloat(hypot(hypot(one->right_cm, one->forward_cm), one->up_cm), <=, 12);
    for (guint other = 1; other < k; other++) {
      const CwPositionPlace *two = cw_job_position_place(other);
      g_assert_cmpfloat(hypot(hypot(one->right_cm - two->right_cm, one->forward_cm - two->forward_cm),
                              one->up_cm - two->up_cm),
                        >=, 5);
      g_assert_cmpstr(one->where, !=, two->where);
    }
  }
  g_assert_null(cw_job_position_place(0));
  g_assert_null(cw_job_position_place(-1));
  g_assert_null(cw_job_position_place(CW_POSITION_PLACES + 1));
}

static void test_number(void)
{
  g_assert_cmpint(cw_job_position_number("driver/3"), ==, 3);
  g_assert_cmpint(cw_job_position_number("rear/left/12"), ==, 12);
  g_assert_cmpint(cw_job_position_number("driver"), ==, 0);
  g_assert_cmpint(cw_job_position_number("driver/x"), ==, 0);
  g_assert_cmpint(cw_job_position_number(NULL), ==, 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/positions/bay-agrees", test_bay_agrees);
  g_test_add_func("/positions/places-differ", test_places_differ);
  g_test_add_func("/positions/number", test_number);
  return g_test_run();
}
