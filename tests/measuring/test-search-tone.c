/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/search_tone.h"
#include "signal/fft.h"
#include <glib.h>
#include <math.h>

/* From the last sample to the first it goes on as from any sample to the next: no click, in value and slope.
 */
static void test_seamless(void)
{
  static const double rates_hz[] = {44100, 48000, 96000};

  for (gsize r = 0; r < G_N_ELEMENTS(rates_hz); r++)
    for (double hz = 25; hz < 1500; hz *= 1.7) {
      CwSearchTone tone = cw_search_tone_design(hz, 20, -12);
      gsize frames = cw_search_tone_frames(&tone, rates_hz[r]);
      double *samples = cw_alloc_real(frames), w = 2 * G_PI * tone.low_hz / rates_hz[r], most = 0;
      cw_search_tone_render(&tone, rates_hz[r], samples);
      for (gsize i = 0; i < frames; i++)
        most = fmax(most, fabs(samples[i]));
      g_assert_cmpfloat(most, <=, tone.level * (1 + 1e-12));
      g_assert_cmpfloat(most, >, 0.99 * tone.level);
      for (gsize i = frames - 2; i < frames + 2; i++) {
        /* a sine of slowly changing frequency: x[n+1] = 2 cos(w) x[n] - x[n-1] */
        double before = samples[(i + frames - 1) % frames], here = samples[i % frames],
               after = samples[(i + 1) % frames];
        g_assert_cmpfloat(fabs(after - (2 * cos(w) * here - before)), <, 2e-3 * w * tone.level);
      }
      cw_free(samples);
    }
}

/* It passes the frequency twice a loop, stays within a third of an octave, and spares the driver. */
static void test_range(void)
{
  CwSearchTone tone = cw_search_tone_design(92, 50, -20), low = cw_search_tone_design(55, 50, -20);
  guint passes = 0;
  double before = cw_search_tone_hz(&tone, 0);

  g_assert_cmpfloat(fabs(before - 92 * exp2(-1.0 / 3)), <, 1e-9);
  for (double t = 0; t <= tone.seconds; t += 0.001) {
    double hz = cw_search_tone_hz(&tone, t);
    passes += (hz - 92) * (before - 92) < 0;
    before = hz;
    g_assert_true(hz >= tone.low_hz - 1e-9 && hz <= tone.high_hz + 1e-9);
  }
  g_assert_cmpuint(passes, ==, 2);
  g_assert_cmpfloat(low.low_hz, ==, 50);
  g_assert_cmpfloat(low.high_hz, >, 55);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/measuring/search-tone/seamless", test_seamless);
  g_test_add_func("/measuring/search-tone/range", test_range);
  return g_test_run();
}
