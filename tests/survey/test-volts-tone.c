/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "../signal/signals.h"
#include "survey/recording/volts_tone.h"

#include <string.h>

#define RATE_HZ 48000.0
#define SECONDS 6.0

/* A recording of the tone as a radio may give it. */
typedef struct {
  double gain, ppm, offset, noise_rms, other_hz, other; /* a second tone */
  double from, to;                                      /* seconds between which it plays */
  double step_at, step_db;                              /* where the volume is turned */
  double hz;                                            /* 0 for the track's own */
} Played;

static const Played clean = {.gain = 1, .to = SECONDS, .step_at = INFINITY};

static CwVoltsToneReading read_played(const Played *p, double rate_hz)
{
  size_t frames = (size_t)(SECONDS * rate_hz);
  double *samples = cw_alloc_real(frames), hz = (p->hz > 0 ? p->hz : CW_VOLTS_TONE_HZ) * (1 + 1e-6 * p->ppm);
  for (size_t i = 0; i < frames; i++) {
    double t = (double)i / rate_hz, gain = p->gain * (t >= p->step_at ? pow(10, p->step_db / 20) : 1);
    if (t >= p->from && t < p->to)
      samples[i] = gain * pow(10, CW_VOLTS_TONE_DBFS / 20) * sin(2 * G_PI * hz * t + 0.7);
    samples[i] += p->offset + p->other * sin(2 * G_PI * p->other_hz * t);
  }
  add_noise(samples, frames, p->noise_rms, 5);
  for (size_t i = 0; i < frames; i++)
    samples[i] = CLAMP(samples[i], -1, 1);
  CwVoltsToneReading reading = cw_volts_tone_read(samples, frames, rate_hz);
  cw_free(samples);
  return reading;
}

/* The track: level and frequency as the header states them, whole periods, so that it loops without a seam.
 */
static void test_track(void)
{
  size_t frames = (size_t)lrint(CW_VOLTS_TONE_SECONDS * RATE_HZ);
  double *samples = cw_alloc_real(frames), power = 0, periods = CW_VOLTS_TONE_HZ * CW_VOLTS_TONE_SECONDS;
  cw_volts_tone_render(RATE_HZ, samples);
  for (size_t i = 0; i < frames; i++)
    power += samples[i] * samples[i] / (double)frames;
  g_assert_cmpfloat_with_epsilon(10 * log10(2 * power), CW_VOLTS_TONE_DBFS, 1e-9);
  g_assert_cmpfloat(periods, ==, rint(periods));
  /* The sample after the last would be the first: the differences at the seam are those within. */
  g_assert_cmpfloat_with_epsilon(samples[0] - samples[frames - 1], samples[1] - samples[0],
                                 pow(2 * G_PI * CW_VOLTS_TONE_HZ / RATE_HZ, 2));
  CwVoltsToneReading reading = cw_volts_tone_read(samples, frames, RATE_HZ);
  g_assert_cmpuint(reading.faults, ==, 0);
  cw_free(samples);
}

/* The bounds of Cramer and Rao on amplitude and frequency of a tone in n samples (Rife and Boorstyn, IEEE
 * Trans. IT-20, 1974). */
static double amplitude_deviation(double noise_rms, double n)
{
  return noise_rms * sqrt(2 / n);
}

static double ppm_deviation(double noise_rms, double amplitude, double n, double rate_hz)
{
  return 1e6 * sqrt(24 / (n * n * n)) * noise_rms / amplitude / (2 * G_PI) * rate_hz / CW_VOLTS_TONE_HZ;
}

/* Amplitude and clock at every rate, with an offset, which is no tone, and at what drift a player has. */
static void test_reading(void)
{
  static const double rates[] = {44100, 96000};
  for (size_t i = 0; i < G_N_ELEMENTS(rates); i++)
    for (double ppm = -150; ppm <= 150; ppm += 300) {
      Played p = clean;
      p.gain = 0.3;
      p.ppm = ppm;
      p.offset = 0.05;
      p.noise_rms = 1e-4;
      CwVoltsToneReading reading = read_played(&p, rates[i]);
      g_assert_cmpuint(reading.faults, ==, 0);
      double amplitude = 0.3 * pow(10, CW_VOLTS_TONE_DBFS / 20), n = reading.seconds * rates[i];
      g_assert_cmpfloat_with_epsilon(reading.amplitude, amplitude, 5 * amplitude_deviation(p.noise_rms, n));
      g_assert_cmpfloat_with_epsilon(reading.ppm, ppm,
                                     5 * ppm_deviation(p.noise_rms, amplitude, n, rates[i]));
      g_assert_cmpfloat(reading.seconds, >, SECONDS - 1);
      g_assert_cmpfloat_with_epsilon(reading.other_percent, 100 * p.noise_rms * M_SQRT2 / amplitude, 0.01);
    }
}

/* Noise beside the tone is told in per cent of what the meter sees, and does not raise the amplitude: by
 * least squares its deviation is sigma sqrt(2 / n). */
static void test_noise(void)
{
  Played p = clean;
  p.noise_rms = 0.04 * pow(10, CW_VOLTS_TONE_DBFS / 20) / M_SQRT2;
  CwVoltsToneReading reading = read_played(&p, RATE_HZ);
  g_assert_cmpuint(reading.faults, ==, 0);
  g_assert_cmpfloat_with_epsilon(reading.other_percent, 4,
                                 4 * (5 / sqrt(2 * reading.seconds * RATE_HZ) + 1e-3));
  g_assert_cmpfloat_with_epsilon(reading.amplitude, pow(10, CW_VOLTS_TONE_DBFS / 20),
                                 5 * amplitude_deviation(p.noise_rms, reading.seconds * RATE_HZ));
}

/* The longest steady stretch counts, without what comes before and after. */
static void test_stretch(void)
{
  Played p = clean;
  p.noise_rms = 1e-4;
  p.from = 1.1;
  p.to = 4.7;
  CwVoltsToneReading reading = read_played(&p, RATE_HZ);
  g_assert_cmpuint(reading.faults, ==, 0);
  g_assert_cmpfloat_with_epsilon(reading.amplitude, pow(10, CW_VOLTS_TONE_DBFS / 20),
                                 5 * amplitude_deviation(p.noise_rms, reading.seconds * RATE_HZ));
  g_assert_cmpfloat(reading.seconds, >, 2.6);
  g_assert_cmpfloat(reading.seconds, <, 3.6);
}

/* Each fault by what brings it about, and no other with it. */
static void test_faults(void)
{
  const double level = pow(10, CW_VOLTS_TONE_DBFS / 20);
  const struct {
    const char *what;
    Played played;
    unsigned faults;
  } cases[] = {
      {"nothing", {.to = SECONDS, .step_at = INFINITY, .noise_rms = 1e-6}, CW_VOLTS_TONE_SILENT},
      {"too loud",
       {.gain = 6, .to = SECONDS, .step_at = INFINITY},
       CW_VOLTS_TONE_CLIPPED | CW_VOLTS_TONE_NOISY},
      {"a tweeter's hum",
       {.gain = 0.001, .to = SECONDS, .step_at = INFINITY, .other_hz = 50, .other = 0.05},
       CW_VOLTS_TONE_ABSENT},
      {"half a semitone up",
       {.gain = 1, .hz = 116, .to = SECONDS, .step_at = INFINITY},
       CW_VOLTS_TONE_ABSENT},
      {"another player's pitch",
       {.gain = 1, .ppm = 900, .to = SECONDS, .step_at = INFINITY},
       CW_VOLTS_TONE_OFF},
      {"faint", {.gain = 0.9e-3 / level, .to = SECONDS, .step_at = INFINITY}, CW_VOLTS_TONE_FAINT},
      {"a second of it", {.gain = 1, .from = 2, .to = 3.1, .step_at = INFINITY}, CW_VOLTS_TONE_SHORT},
      {"turned up", {.gain = 1, .to = SECONDS, .step_at = 3, .step_db = 2}, CW_VOLTS_TONE_UNSTEADY},
      {"a ground loop",
       {.gain = 1, .to = SECONDS, .step_at = INFINITY, .other_hz = 50, .other = 0.06 * level},
       CW_VOLTS_TONE_NOISY},
  };
  for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
    CwVoltsToneReading reading = read_played(&cases[i].played, RATE_HZ);
    g_test_message("%s", cases[i].what);
    g_assert_cmpuint(reading.faults, ==, cases[i].faults);
  }
  CwVoltsToneReading none = cw_volts_tone_read(NULL, 0, RATE_HZ);
  g_assert_cmpuint(none.faults, ==, CW_VOLTS_TONE_SHORT);
  g_assert_true(isnan(none.amplitude) && isnan(none.ppm) && isnan(none.seconds) && isnan(none.other_percent));
}

/* A level that wanders all the time holds no steady stretch: unsteady, and not short. */
static void test_wandering(void)
{
  size_t frames = (size_t)(SECONDS * RATE_HZ);
  double *samples = cw_alloc_real(frames);
  for (size_t i = 0; i < frames; i++) {
    double t = (double)i / RATE_HZ;
    samples[i] = 0.2 * pow(10, 0.05 * 6 * sin(2 * G_PI * t / 1.7)) * sin(2 * G_PI * CW_VOLTS_TONE_HZ * t);
  }
  g_assert_cmpuint(cw_volts_tone_read(samples, frames, RATE_HZ).faults, ==, CW_VOLTS_TONE_UNSTEADY);
  cw_free(samples);
}

/* Every fault has words of its own. */
static void test_texts(void)
{
  for (unsigned a = 1; a <= CW_VOLTS_TONE_LAST_FAULT; a <<= 1) {
    g_assert_cmpuint(strlen(cw_volts_tone_fault_text((CwVoltsToneFault)a)), >, 20);
    for (unsigned b = 1; b < a; b <<= 1)
      g_assert_cmpstr(cw_volts_tone_fault_text((CwVoltsToneFault)a), !=,
                      cw_volts_tone_fault_text((CwVoltsToneFault)b));
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/volts-tone/track", test_track);
  g_test_add_func("/survey/volts-tone/reading", test_reading);
  g_test_add_func("/survey/volts-tone/noise", test_noise);
  g_test_add_func("/survey/volts-tone/stretch", test_stretch);
  g_test_add_func("/survey/volts-tone/faults", test_faults);
  g_test_add_func("/survey/volts-tone/wandering", test_wandering);
  g_test_add_func("/survey/volts-tone/texts", test_texts);
  return g_test_run();
}
