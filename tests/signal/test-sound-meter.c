/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/live/sound_meter.h"
#include <stdlib.h>

#define FRAMES 192000

static void play(CwSoundMeter *meter, double rate_hz, double hz, double gain, size_t frames)
{
  float *samples = calloc(2 * frames, sizeof *samples);

  for (size_t i = 0; i < frames; i++)
    samples[2 * i] = (float)(gain * sin(2 * G_PI * fmod(hz * (double)i / rate_hz, 1)));
  for (size_t at = 0; at < frames; at += 700)
    cw_sound_meter_run(meter, samples + 2 * at, 2, MIN((size_t)700, frames - at));
  free(samples);
}

/* Tones at the standard's frequencies read as the weightings say (IEC 61672-1, Annex E), at all usual rates.
 */
static void test_weightings(void)
{
  static const double rates_hz[] = {44100, 48000, 96000}, tones_hz[] = {31.623, 100, 1000, 3981.07, 10000};

  for (size_t r = 0; r < G_N_ELEMENTS(rates_hz); r++)
    for (size_t t = 0; t < G_N_ELEMENTS(tones_hz); t++) {
      CwSoundMeter meter;
      /* The square of a tone pulsates; what the time weighting leaves of that, dB. */
      double seconds, ripple = 4.343 / (4 * G_PI * tones_hz[t] * 0.125);
      cw_sound_meter_init(&meter, rates_hz[r], 0.125);
      play(&meter, rates_hz[r], tones_hz[t], 0.1, FRAMES);
      check_below("flat, dB off", fabs(cw_sound_meter_level_db(&meter, CW_METER_FLAT) + 23.0103),
                  0.01 + ripple);
      check_below(
          "A, dB off",
          fabs(cw_sound_meter_level_db(&meter, CW_METER_A) + 23.0103 - cw_weighting_a_db(tones_hz[t])),
          0.11 + ripple);
      check_below(
          "C, dB off",
          fabs(cw_sound_meter_level_db(&meter, CW_METER_C) + 23.0103 - cw_weighting_c_db(tones_hz[t])),
          0.11 + ripple);
      /* What a part of a period at the end adds to the mean of the square, dB. */
      double part = 4.343 / (4 * G_PI * tones_hz[t] * FRAMES / rates_hz[r]);
      check_below("mean, dB off", fabs(cw_sound_meter_take(&meter, CW_METER_FLAT, &seconds) + 23.0103),
                  1e-3 + part);
      check_below("seconds off", fabs(seconds - FRAMES / rates_hz[r]), 1e-9);
      g_assert_true(isnan(cw_sound_meter_take(&meter, CW_METER_A, &seconds)) && seconds == 0);
    }
}

/* After a tone the level falls by 34.7 dB a second (fast) or 4.34 (slow), IEC 61672-1, 5.8. */
static void test_falls(void)
{
  static const double constants[] = {0.125, 1};

  for (int i = 0; i < 2; i++) {
    CwSoundMeter meter;
    cw_sound_meter_init(&meter, 48000, constants[i]);
    play(&meter, 48000, 1000, 1, FRAMES);
    double before = cw_sound_meter_level_db(&meter, CW_METER_FLAT);
    play(&meter, 48000, 1000, 0, 24000);
    check_below(
        "fall in half a second, part off",
        fabs((before - cw_sound_meter_level_db(&meter, CW_METER_FLAT)) / (0.5 * 10 / log(10) / constants[i]) -
             1),
        1e-3);
  }
}

/* At a rate that has no room for the weightings they are not claimed. */
static void test_low_rate(void)
{
  CwSoundMeter meter;

  cw_sound_meter_init(&meter, 32000, 0.125);
  play(&meter, 32000, 1000, 0.1, 32000);
  g_assert_true(isnan(cw_sound_meter_level_db(&meter, CW_METER_A)));
  check_below("flat, dB off", fabs(cw_sound_meter_level_db(&meter, CW_METER_FLAT) + 23.0103), 0.05);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/sound-meter/weightings", test_weightings);
  g_test_add_func("/sound-meter/falls", test_falls);
  g_test_add_func("/sound-meter/low-rate", test_low_rate);
  return g_test_run();
}
