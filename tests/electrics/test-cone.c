/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small, JAES 21 (1973), Closed-Box Loudspeaker Systems: for the maximally flat alignment (Qtc = 0.7071) the
 * acoustic power that a displacement volume Vd gives, for programme that reaches down to f3, is 0.85 f3^4
 * Vd^2 watts; the efficiency is 9.64e-10 fs^3 Vas / Qes (Vas in litres; Thiele 1961). Both from memory.
 * Together they fix the travel per volt without any formula of the program. */
#include "electrics/cone.h"

#include <glib.h>
#include <math.h>

static const CwCone woofer = {.resonance_hz = 60,
                              .total_q = M_SQRT1_2,
                              .compliance_l = 20,
                              .cone_area_cm2 = 330,
                              .nominal_ohm = 5,
                              .travel_peak_mm = 6};

static void test_rated_by_small(void)
{
  double volume_m3 = 1e-4 * woofer.cone_area_cm2 * 1e-3 * woofer.travel_peak_mm;
  double acoustic_w = 0.85 * pow(woofer.resonance_hz, 4) * volume_m3 * volume_m3;
  double efficiency = 9.64e-10 * pow(woofer.resonance_hz, 3) * woofer.compliance_l / woofer.total_q;
  /* The rating is that of the middle of the band, where the reference efficiency turns volts squared over Re
   * into sound. */
  double volts = sqrt(acoustic_w / efficiency * 0.8 * woofer.nominal_ohm);
  g_test_message("%.2f V by the published ratings, %.2f V by travel", volts, cw_cone_most_volts(&woofer, 60));
  /* The published numbers stand for c = 345 m/s and three digits: 3 %. */
  g_assert_cmpfloat_with_epsilon(cw_cone_most_volts(&woofer, 60) / volts, 1, 0.03);
}

/* Above resonance travel falls by 12 dB per octave, far below it is constant; volts and travel are
 * proportional. */
static void test_shape(void)
{
  g_assert_cmpfloat_with_epsilon(cw_cone_travel_mm(&woofer, 1200, 1) / cw_cone_travel_mm(&woofer, 2400, 1), 4,
                                 0.02);
  g_assert_cmpfloat_with_epsilon(cw_cone_travel_mm(&woofer, 2, 1) / cw_cone_travel_mm(&woofer, 1, 1), 1,
                                 1e-3);
  g_assert_cmpfloat_with_epsilon(cw_cone_travel_mm(&woofer, 40, 14), 14 * cw_cone_travel_mm(&woofer, 40, 1),
                                 1e-12);
  g_assert_cmpfloat_with_epsilon(cw_cone_travel_mm(&woofer, 33, cw_cone_most_volts(&woofer, 33)), 6, 1e-9);
}

static void test_known(void)
{
  CwCone bare = woofer;
  g_assert_true(cw_cone_is_known(&woofer));
  bare.compliance_l = NAN;
  g_assert_false(cw_cone_is_known(&bare));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/electrics/cone/rated-by-small", test_rated_by_small);
  g_test_add_func("/electrics/cone/shape", test_shape);
  g_test_add_func("/electrics/cone/known", test_known);
  return g_test_run();
}
