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

/* The square of a tone pulsates at twice its frequency: the part of that which a first-order time weighting
 * of samples leaves, and what it still holds of the silence before, as the most that a level can be off, dB.
 */
static double ripple_db(double hz, double rate_hz, double seconds)
{
  double keeps = exp(-1 / (0.125 * rate_hz));
  double part = (1 - keeps) / cabs(1 - keeps * cexp(-4 * G_PI * I * hz / rate_hz)) + exp(-seconds / 0.125);
  return -10 * log10(1 - part);
}

/* A weighting's published value, unrounded, at one of the table's exact frequencies. */
static double published_db(const char *column, double hz)
{
  for (size_t i = 0; i < check_rows("weight.table"); i++)
    if (fabs(check_cell("weight.table", i, "exact f") / hz - 1) < 1e-6)
      return check_cell("weight.table", i, column);
  g_assert_not_reached();
}

static double filter_db(const CwSoundMeter *meter, CwMeterWeighting weighting, double hz)
{
  CwComplex response = 1;
  for (size_t s = 0; s < meter->sections[weighting]; s++)
    response *= cw_coefficients_response(&meter->cascade[weighting][s], hz, meter->rate_hz);
  return 20 * log10(cabs(response));
}

/* Tones read as the meter's filters have them, to the time weighting's ripple and to what floats hold of a
 * tone (their squares are off by 1e-7); and as the weightings are published (IEC 61672-1, weight.table), to
 * the 0.1 dB that the filters may be off besides, which their own test shows at every frequency. At all usual
 * rates. */
static void test_weightings(void)
{
  static const double rates_hz[] = {44100, 48000, 96000};
  static const double tones_hz[] = {31.6227766017, 100, 1000, 3981.07170553, 10000};
  static const char *const columns[] = {[CW_METER_A] = "A exact", [CW_METER_C] = "C exact"};
  const double level_db = 20 * log10(0.1 * M_SQRT1_2);

  for (size_t r = 0; r < G_N_ELEMENTS(rates_hz); r++)
    for (size_t t = 0; t < G_N_ELEMENTS(tones_hz); t++) {
      CwSoundMeter meter;
      double seconds, ripple = ripple_db(tones_hz[t], rates_hz[r], FRAMES / rates_hz[r]) + 1e-6;
      cw_sound_meter_init(&meter, rates_hz[r], 0.125);
      play(&meter, rates_hz[r], tones_hz[t], 0.1, FRAMES);
      check_below("flat, dB off", fabs(cw_sound_meter_level_db(&meter, CW_METER_FLAT) - level_db), ripple);
      for (int w = CW_METER_A; w <= CW_METER_C; w++) {
        double got_db = cw_sound_meter_level_db(&meter, (CwMeterWeighting)w) - level_db;
        check_below("weighted, dB off the filter",
                    fabs(got_db - filter_db(&meter, (CwMeterWeighting)w, tones_hz[t])), ripple);
        check_near("weight.table", got_db, published_db(columns[w], tones_hz[t]), 0.1 + ripple);
      }
      /* What a part of a period at the end adds to the mean of the square, dB. */
      double part = 10 / M_LN10 / (FRAMES * fabs(sin(2 * G_PI * tones_hz[t] / rates_hz[r])));
      check_below("mean, dB off", fabs(cw_sound_meter_take(&meter, CW_METER_FLAT, &seconds) - level_db),
                  1e-6 + part);
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
  check_below("flat, dB off",
              fabs(cw_sound_meter_level_db(&meter, CW_METER_FLAT) - 20 * log10(0.1 * M_SQRT1_2)),
              ripple_db(1000, 32000, 1) + 1e-6);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/sound-meter/weightings", test_weightings);
  g_test_add_func("/sound-meter/falls", test_falls);
  g_test_add_func("/sound-meter/low-rate", test_low_rate);
  return g_test_run();
}
