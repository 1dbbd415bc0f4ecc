/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "electrics/cable_choice.h"
#include "electrics/rating.h"

static void test_choice(void)
{
  /* 60 A over 5 m: 0.5 V there and back ask for 0.833 ohm/km or less: 25 mm2 (0.78) in IEC 60228. */
  CwCableChoice by_drop = cw_choose_cable(60, 5, CW_COPPER, 0.5);
  g_assert_cmpfloat(by_drop.size_mm2, ==, 25);
  g_assert_cmpfloat(by_drop.fuse_a, ==, 60);
  check_near("drop.limits", by_drop.drop_v, 2 * 5 * 60 * 0.78 / 1000, 1e-12);
  /* Over 20 cm the drop is nothing: the fuse decides. */
  CwCableChoice by_fuse = cw_choose_cable(60, 0.2, CW_COPPER, 0.5);
  g_assert_cmpfloat(by_fuse.size_mm2, ==, by_fuse.least_for_fuse_mm2);
  g_assert_cmpfloat(by_fuse.size_mm2, >, by_fuse.least_for_drop_mm2);
  g_assert_cmpfloat(by_fuse.rating_a, >=, by_fuse.fuse_a);
  g_assert_true(isnan(cw_choose_cable(400, 20, CW_COPPER, 0.5).size_mm2));
  CwCableChoice of_nothing = cw_choose_cable(0, 5, CW_COPPER, 0.5);
  g_assert_true(isnan(of_nothing.size_mm2) && isnan(of_nothing.fuse_a));
}

/* Whatever is chosen keeps both promises, and the next size down breaks one. */
static void test_smallest(void)
{
  size_t chosen = 0, refused = 0;
  for (double current = 2; current < 300; current *= 1.3)
    for (double length = 0.5; length < 8; length *= 1.5)
      for (int material = CW_COPPER; material <= CW_ALUMINIUM; material++) {
        CwCableChoice choice = cw_choose_cable(current, length, (CwMaterial)material, 0.5);
        const double *sizes;
        size_t n = cw_cable_sizes(&sizes), at = 0;
        if (isnan(choice.size_mm2)) {
          refused++;
          g_assert_true(cw_two_way_drop_v(cw_cable_ohm_per_km(sizes[n - 1], (CwMaterial)material, 20), length,
                                          current) > 0.5 ||
                        cw_cable_rating(sizes[n - 1], (CwMaterial)material).current_a < choice.fuse_a);
          continue;
        }
        chosen++;
        while (at < n && sizes[at] < choice.size_mm2)
          at++;
        g_assert_cmpfloat(choice.drop_v, <=, 0.5);
        g_assert_cmpfloat(choice.fuse_a, >=, current);
        g_assert_cmpfloat(choice.rating_a, >=, choice.fuse_a);
        if (at)
          g_assert_true(cw_two_way_drop_v(cw_cable_ohm_per_km(sizes[at - 1], (CwMaterial)material, 20),
                                          length, current) > 0.5 ||
                        cw_cable_rating(sizes[at - 1], (CwMaterial)material).current_a < choice.fuse_a);
      }
  g_assert_cmpuint(chosen, >, 2 * refused);
  g_assert_cmpuint(refused, >, 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/electrics/cable-choice/choice", test_choice);
  g_test_add_func("/electrics/cable-choice/smallest", test_smallest);
  return g_test_run();
}
