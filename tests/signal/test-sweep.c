/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/resample.h"
#include "signal/response/phase.h"
#include "signal/stimulus/sweep.h"
#include "signals.h"

static void test_design(void)
{
  const char *id = "ess.sync2010";
  double tolerance = check_tolerance(id, "rel");

  for (size_t i = 0; i < check_rows(id); i++) {
    double f1 = check_cell(id, i, "f1"), f2 = check_cell(id, i, "f2");
    CwSweep sweep = cw_sweep_design(f1, f2, check_cell(id, i, "T wanted") / log(f2 / f1), -12, 0);
    check_near_relative(id, sweep.growth_seconds, check_cell(id, i, "L"), tolerance);
    check_near_relative(id, sweep.growth_seconds * f1, check_cell(id, i, "k"), tolerance);
    check_near_relative(id, sweep.seconds, check_cell(id, i, "T actual"), tolerance);
    check_below("level", fabs(sweep.level - pow(10, -12.0 / 20)), 1e-15);
  }
}

static void test_advances(void)
{
  static const char *const columns[] = {"n=2", "n=3", "n=4", "n=5"};
  const char *id = "ess.delays";

  for (size_t i = 0; i < check_rows(id); i++) {
    double f1 = check_cell(id, i, "f1"), f2 = check_cell(id, i, "f2"), seconds = check_cell(id, i, "T");
    CwSweep sweep = {.start_hz = f1,
                     .stop_hz = f2,
                     .seconds = seconds,
                     .growth_seconds = seconds / log(f2 / f1),
                     .fade_in_octaves = CW_SWEEP_FADE_IN_OCTAVES,
                     .fade_out_octaves = CW_SWEEP_FADE_OUT_OCTAVES,
                     .level = 1};
    check_near_relative(id, sweep.growth_seconds, check_cell(id, i, "L"), check_tolerance(id, "rel"));
    for (int n = 2; n <= 5; n++)
      check_near_relative(id, cw_sweep_harmonic_advance(&sweep, n), check_cell(id, i, columns[n - 2]),
                          check_tolerance(id, "rel"));
  }
}

/* The rendered sweep's spectrum against stationary phase (Novak 2015), and its energy an octave. */
static void test_spectrum(void)
{
  static const char *const keys[] = {"100", "1000", "10000"};
  const double rate_hz = 48000;
  CwSweep sweep = {.start_hz = 20,
                   .stop_hz = 20000,
                   .seconds = 10,
                   .growth_seconds = 10 / log(1000),
                   .level = 1,
                   .fade_in_octaves = CW_SWEEP_FADE_IN_OCTAVES,
                   .fade_out_octaves = CW_SWEEP_FADE_OUT_OCTAVES};
  size_t frames = cw_sweep_frames(&sweep, rate_hz), length = cw_fft_good_length(frames);
  double *samples = cw_alloc_real(length), bin_hz = rate_hz / (double)length;
  CwComplex *bins = cw_alloc_complex(length / 2 + 1);

  cw_sweep_render(&sweep, rate_hz, samples);
  cw_fft_forward(cw_fft_get(length), samples, bins);
  for (size_t i = 0; i < G_N_ELEMENTS(keys);
       i++) { /* the mean of a few bins, since the spectrum ripples a little */
    double hz = g_ascii_strtod(keys[i], NULL), power = 0;
    size_t bin = (size_t)lrint(hz / bin_hz), reach = (size_t)(0.02 * hz / bin_hz);
    for (size_t k = bin - reach; k <= bin + reach; k++)
      power += creal(bins[k] * conj(bins[k])) * (double)k * bin_hz / hz / (double)(2 * reach + 1);
    check_near("ess.spectrum", 10 * log10(power) - 20 * log10(rate_hz), check_number("ess.spectrum", keys[i]),
               check_tolerance("ess.spectrum", "abs"));
  }
  for (double low_hz = 40; low_hz < 8000; low_hz *= 2) {
    double energy = 0;
    for (size_t k = (size_t)(low_hz / bin_hz); k < (size_t)(2 * low_hz / bin_hz); k++)
      energy += 2 * creal(bins[k] * conj(bins[k])) / (double)length / rate_hz;
    check_near_relative("ess.octave_energy", energy, check_number("ess.octave_energy", NULL),
                        check_tolerance("ess.octave_energy", "rel"));
  }
  cw_free(samples);
  cw_free(bins);
}

typedef struct {
  CwCoefficients cascade[5];
  double delay_seconds;
} System;

static System random_system(double rate_hz)
{
  System system = {.delay_seconds = g_test_rand_double_range(0.0005, 0.03)};
  random_cascade(system.cascade, 4, rate_hz);
  cw_section_design(&(CwSection){CW_SECTION_HIGH_PASS, 50, 0, 0.7}, rate_hz, &system.cascade[4]);
  return system;
}

static double *play_through(const System *system, const CwSweep *sweep, double rate_hz, size_t frames)
{
  double *samples = cw_alloc_real(frames);

  cw_sweep_render(sweep, rate_hz, samples);
  cw_cascade_run(system->cascade, 5, samples, frames);
  delay_by(samples, frames, system->delay_seconds * rate_hz);
  return samples;
}

/* Worst difference, dB and degrees, from the known system a tenth of an octave inside the sweep's ends.
 * played_hz is the rate at which the system's sections run, recorded_hz the recorder's against the player's
 * clock. */
static void compare(const System *system, const CwSweep *sweep, double played_hz, const double *recording,
                    size_t frames, double recorded_hz, double *worst_db, double *worst_degrees)
{
  CwSweepInverse *inverse = cw_sweep_inverse_new(sweep, recorded_hz, frames);
  size_t length = cw_sweep_inverse_length(inverse);
  double *response = cw_alloc_real(length);
  CwComplex *bins = cw_alloc_complex(length / 2 + 1);

  cw_sweep_deconvolve(inverse, recording, frames, response);
  cw_fft_forward(cw_fft_get(length), response, bins);
  *worst_db = *worst_degrees = 0;
  for (size_t k = 1; k < length / 2; k += 11) {
    double hz = (double)k * recorded_hz / (double)length;
    CwComplex truth;
    if (hz < sweep->start_hz * exp2(0.1) || hz > fmin(sweep->stop_hz * exp2(-0.1), 0.45 * recorded_hz))
      continue;
    cw_cascade_response(system->cascade, 5, played_hz, &hz, 1, false, &truth);
    truth *= cexp(-2 * G_PI * I * hz * system->delay_seconds);
    *worst_db = fmax(*worst_db, fabs(20 * log10(cabs(bins[k] / truth))));
    *worst_degrees = fmax(*worst_degrees, fabs(carg(bins[k] / truth)) * 180 / G_PI);
  }
  cw_sweep_inverse_free(inverse);
  cw_free(response);
  cw_free(bins);
}

static void test_known_systems(void)
{
  static const double ends_hz[][2] = {{20, 20000}, {15, 400}, {200, 20000}, {1500, 21000}};

  for (size_t e = 0; e < G_N_ELEMENTS(ends_hz); e++)
    for (int round = 0; round < 3; round++) {
      CwSweep sweep = cw_sweep_design(ends_hz[e][0], ends_hz[e][1], 0.4, -12, 0);
      size_t frames = cw_sweep_frames(&sweep, 48000) + 24000;
      System system = random_system(48000);
      double *recording = play_through(&system, &sweep, 48000, frames), worst_db, worst_degrees;
      compare(&system, &sweep, 48000, recording, frames, 48000, &worst_db, &worst_degrees);
      check_below("known system, dB off", worst_db, 0.01);
      check_below("known system, degrees off", worst_degrees, 0.1);
      cw_free(recording);
    }
}

/* The recorder runs at another rate, and its clock is 100 ppm off besides. */
static void check_recorder(double stop_hz, double played_hz, double recorder_hz, double ppm)
{
  CwSweep sweep = cw_sweep_design(30, stop_hz, 0.5, -6, 0);
  double true_hz = recorder_hz * (1 + ppm * 1e-6), ratio = true_hz / played_hz, worst_db, worst_degrees;
  size_t played = cw_sweep_frames(&sweep, played_hz) + (size_t)(0.5 * played_hz),
         frames = cw_resample_frames(played, ratio);
  System system = random_system(played_hz);
  double *sound = play_through(&system, &sweep, played_hz, played), *recording = cw_alloc_real(frames);

  cw_resample(sound, played, ratio, recording);
  compare(&system, &sweep, played_hz, recording, frames, true_hz, &worst_db, &worst_degrees);
  g_test_message("%g to %g Hz, %+g ppm: %.5f dB, %.4f degrees", played_hz, recorder_hz, ppm, worst_db,
                 worst_degrees);
  check_below("known system, dB off", worst_db, 0.01);
  check_below("known system, degrees off", worst_degrees, 0.1);
  cw_free(sound);
  cw_free(recording);
}

static void test_recorders(void)
{
  check_recorder(18000, 48000, 48000, 100);
  check_recorder(18000, 48000, 48000, -100);
  check_recorder(18000, 44100, 48000, 0);
  check_recorder(18000, 44100, 96000, 100);
  check_recorder(18000, 96000, 48000, -100);
  check_recorder(30000, 96000, 48000, 0); /* more than the recorder can hear */
}

/* What an unmet clock does: a delay that grows with the octave by ppm L ln 2, drift.sweep. The source counts
 * the clock's lag at the moment at which the sweep passes a frequency; a slow player also lowers that
 * frequency, which adds the same ppm L everywhere. */
static void test_unmet_clock(void)
{
  static const char *const columns[] = {"us 100", "us 1k", "us 10k"};
  const char *id = "drift.sweep";
  const double rate_hz = 48000;

  for (size_t i = 0; i < check_rows(id); i++) {
    double ppm = check_cell(id, i, "ppm"), seconds = check_cell(id, i, "T");
    CwSweep sweep = {.start_hz = 20,
                     .stop_hz = 20000,
                     .seconds = seconds,
                     .growth_seconds = seconds / log(1000),
                     .fade_in_octaves = CW_SWEEP_FADE_IN_OCTAVES,
                     .fade_out_octaves = CW_SWEEP_FADE_OUT_OCTAVES,
                     .level = 1};
    size_t frames = cw_sweep_frames(&sweep, rate_hz) + 24000, length;
    double *recording = cw_alloc_real(frames), *response, *phase;
    /* The player is slow, so that more of the recorder's samples go into the sweep. */
    cw_sweep_render(&sweep, rate_hz * (1 + ppm * 1e-6), recording);
    CwSweepInverse *inverse = cw_sweep_inverse_new(&sweep, rate_hz, frames);
    length = cw_sweep_inverse_length(inverse);
    response = cw_alloc_real(length);
    phase = cw_alloc_real(length / 2 + 1);
    CwComplex *bins = cw_alloc_complex(length / 2 + 1);
    cw_sweep_deconvolve(inverse, recording, frames, response);
    cw_fft_forward(cw_fft_get(length), response, bins);
    for (size_t c = 0; c < G_N_ELEMENTS(columns); c++) {
      double hz = 100 * pow(10, (double)c), bin_hz = rate_hz / (double)length, delay;
      size_t bin = (size_t)lrint(hz / bin_hz), reach = (size_t)(0.1 * hz / bin_hz);
      cw_phase_of(bins + bin - reach, 2 * reach + 1, phase);
      delay = -(phase[2 * reach] - phase[0]) /
              (2 * G_PI * 2 * (double)reach * bin_hz); /* the mean over +-10 %, nearly that at hz */
      double wanted_us = check_cell(id, i, columns[c]) + ppm * sweep.growth_seconds;
      check_near_relative(id, delay * 1e6, wanted_us, 0.01);
    }
    cw_sweep_inverse_free(inverse);
    cw_free(recording);
    cw_free(response);
    cw_free(phase);
    cw_free(bins);
  }
}

/* A memoryless y = x + 0.1 x^2 + 0.05 x^3: second and third harmonic at every frequency, for the sweep's own
 * amplitude there. */
static void check_polynomial(double level_dbfs, double protect_hz, double start_hz, double tolerance_db)
{
  const double rate_hz = 96000;
  CwSweep sweep = cw_sweep_design(start_hz, 20000, 10 / log(1000), level_dbfs, protect_hz);
  size_t frames = cw_sweep_frames(&sweep, rate_hz) + (size_t)rate_hz, count = 0;
  double *samples = cw_alloc_real(frames), hz[80], second[80], third[80];

  cw_sweep_render(&sweep, rate_hz, samples);
  for (size_t i = 0; i < frames; i++)
    samples[i] += 0.1 * samples[i] * samples[i] + 0.05 * samples[i] * samples[i] * samples[i];
  for (double at = 1.5 * start_hz; at < 6000; at *= 1.1)
    hz[count++] = at;
  CwSweepInverse *inverse = cw_sweep_inverse_new(&sweep, rate_hz, frames);
  size_t length = cw_sweep_inverse_length(inverse);
  double *response = cw_alloc_real(length);
  cw_sweep_deconvolve(inverse, samples, frames, response);
  cw_sweep_distortion(&sweep, rate_hz, response, length, 0, 2, hz, count, second);
  cw_sweep_distortion(&sweep, rate_hz, response, length, 0, 3, hz, count, third);
  for (size_t i = 0; i < count; i++) {
    double amplitude = sweep.level * cw_sweep_shape(&sweep, hz[i]),
           first = amplitude + 0.75 * 0.05 * pow(amplitude, 3);
    check_below("second harmonic, dB off",
                fabs(20 * log10(second[i] * first / (0.05 * amplitude * amplitude))), tolerance_db);
    check_below("third harmonic, dB off", fabs(20 * log10(third[i] * first / (0.0125 * pow(amplitude, 3)))),
                tolerance_db);
  }
  cw_sweep_inverse_free(inverse);
  cw_free(samples);
  cw_free(response);
}

static void test_polynomial(void)
{
  check_polynomial(0, 0, 20, 0.2);
  check_polynomial(-6, 0, 20, 0.2);
  check_polynomial(0, 100, 40, 0.2);
}

/* The published case itself: 48 kHz, 20 Hz to 20 kHz in 10 s, read at 1 kHz, and where the harmonics' peaks
 * stand. */
static void test_polynomial_published(void)
{
  const double rate_hz = 48000, hz = 1000;
  CwSweep sweep = cw_sweep_design(20, 20000, 10 / log(1000), 0, 0);
  size_t frames = cw_sweep_frames(&sweep, rate_hz) + 48000;
  double *samples = cw_alloc_real(frames), second, third;

  cw_sweep_render(&sweep, rate_hz, samples);
  for (size_t i = 0; i < frames; i++)
    samples[i] += 0.1 * samples[i] * samples[i] + 0.05 * samples[i] * samples[i] * samples[i];
  CwSweepInverse *inverse = cw_sweep_inverse_new(&sweep, rate_hz, frames);
  size_t length = cw_sweep_inverse_length(inverse);
  double *response = cw_alloc_real(length);
  cw_sweep_deconvolve(inverse, samples, frames, response);
  cw_sweep_distortion(&sweep, rate_hz, response, length, 0, 2, &hz, 1, &second);
  cw_sweep_distortion(&sweep, rate_hz, response, length, 0, 3, &hz, 1, &third);
  check_near("ess.poly", 20 * log10(second), check_number("ess.poly", "H2_dB"),
             check_tolerance("ess.poly_measured", "abs.dB"));
  check_near("ess.poly", 20 * log10(third), check_number("ess.poly", "H3_dB"),
             check_tolerance("ess.poly_measured", "abs.dB"));
  check_near("ess.poly_measured", 20 * log10(second), check_number("ess.poly_measured", "H2_dB"),
             check_tolerance("ess.poly_measured", "abs.dB"));
  check_near("ess.poly_measured", 20 * log10(third), check_number("ess.poly_measured", "H3_dB"),
             check_tolerance("ess.poly_measured", "abs.dB"));
  for (int n = 2; n <= 3;
       n++) { /* their L is 10 s / ln 1000, ours the nearest that is whole: both at L ln n */
    const char *key = n == 2 ? "t2" : "t3";
    double expected = -cw_sweep_harmonic_advance(&sweep, n), peak = 0;
    size_t around = length - (size_t)lrint(-expected * rate_hz), best = 0;
    for (size_t i = around - 2400; i < around + 2400; i++)
      if (fabs(response[i]) > peak) {
        peak = fabs(response[i]);
        best = i;
      }
    double at = ((double)best - (double)length) / rate_hz;
    check_near("ess.poly_measured", at / sweep.growth_seconds * 10 / log(1000),
               check_number("ess.poly_measured", key), check_tolerance("ess.poly_measured", "abs.t"));
  }
  cw_sweep_inverse_free(inverse);
  cw_free(samples);
  cw_free(response);
}

/* Rendering adds to what is there, starts and ends in silence and keeps to its level. */
static void test_render(void)
{
  CwSweep sweep = cw_sweep_design(20, 20000, 0.5, -12, 60);
  size_t frames = cw_sweep_frames(&sweep, 48000);
  double *once = cw_alloc_real(frames), *twice = cw_alloc_real(frames), peak = 0;

  cw_sweep_render(&sweep, 48000, once);
  cw_sweep_render(&sweep, 48000, twice);
  cw_sweep_render(&sweep, 48000, twice);
  for (size_t i = 0; i < frames; i++) {
    peak = fmax(peak, fabs(once[i]));
    g_assert_cmpfloat(twice[i], ==, 2 * once[i]);
  }
  check_below("peak", peak, pow(10, -12.0 / 20) + 1e-12);
  check_below("peak reached", pow(10, -12.0 / 20), peak * 1.001);
  check_below("first and last sample", fmax(fabs(once[0]), fabs(once[frames - 1])), 1e-3);
  /* 24 dB an octave below the protection. */
  check_below("fall below the protection, dB",
              fabs(20 * log10(cw_sweep_shape(&sweep, 30) / cw_sweep_shape(&sweep, 15)) - 24.08), 0.05);
  cw_free(once);
  cw_free(twice);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/sweep/design", test_design);
  g_test_add_func("/sweep/advances", test_advances);
  g_test_add_func("/sweep/render", test_render);
  g_test_add_func("/sweep/spectrum", test_spectrum);
  g_test_add_func("/sweep/known-systems", test_known_systems);
  g_test_add_func("/sweep/recorders", test_recorders);
  g_test_add_func("/sweep/unmet-clock", test_unmet_clock);
  g_test_add_func("/sweep/polynomial", test_polynomial);
  g_test_add_func("/sweep/polynomial-published", test_polynomial_published);
  return g_test_run();
}
