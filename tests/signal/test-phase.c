/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "signal/response/minimum_phase.h"
#include "signal/response/phase.h"
#include "signals.h"
#include <string.h>

#define LENGTH 65536
#define BINS (LENGTH / 2 + 1)
#define RATE_HZ 48000.0
#define BIN_HZ (RATE_HZ / LENGTH)
#define DEGREES (180 / G_PI)

static CwComplex *response_of(const CwCoefficients *cascade, size_t sections)
{
  double *hz = cw_alloc_real(BINS);
  CwComplex *response = cw_alloc_complex(BINS);

  for (size_t i = 0; i < BINS; i++)
    hz[i] = (double)i * BIN_HZ;
  cw_cascade_response(cascade, sections, RATE_HZ, hz, BINS, false, response);
  cw_free(hz);
  return response;
}

static double *magnitude_of(const CwComplex *response)
{
  double *magnitude = cw_alloc_real(BINS);
  for (size_t i = 0; i < BINS; i++)
    magnitude[i] = cabs(response[i]);
  return magnitude;
}

/* The phase between bins, by straight lines. */
static double phase_at(const double *phase, double hz)
{
  size_t below = (size_t)(hz / BIN_HZ);
  double part = hz / BIN_HZ - (double)below;
  return phase[below] + part * (phase[below + 1] - phase[below]);
}

/* Minimum phase of three sections' magnitudes: scipy.signal.freqz. */
static void test_minimum_phase(void)
{
  static const struct {
    const char *name;
    CwSection section;
  } filters[] = {{"PEAK 1k +6 Q1", {CW_SECTION_PEAKING, 1000, 6, 1}},
                 {"PEAK 80 -9 Q4", {CW_SECTION_PEAKING, 80, -9, 4}},
                 {"LS 120 +6 S1", {CW_SECTION_LOW_SHELF, 120, 6, 0.70710678118654752}}};
  const char *id = "min.phase";
  size_t checked = 0;

  for (size_t f = 0; f < G_N_ELEMENTS(filters); f++) {
    CwCoefficients coefficients;
    cw_section_design(&filters[f].section, RATE_HZ, &coefficients);
    CwComplex *response = response_of(&coefficients, 1);
    double *magnitude = magnitude_of(response), *phase = cw_alloc_real(BINS);
    cw_minimum_phase(magnitude, LENGTH, NULL, phase);
    for (size_t i = 0; i < check_rows(id); i++) {
      if (strcmp(check_text(id, i, "filter"), filters[f].name) != 0)
        continue;
      check_near(id, phase_at(phase, check_cell(id, i, "Hz")) * DEGREES, check_cell(id, i, "deg"),
                 check_tolerance(id, "abs"));
      checked++;
    }
    cw_free(response);
    cw_free(magnitude);
    cw_free(phase);
  }
  g_assert_cmpuint(checked, ==, check_rows(id));
}

/* Random cascades are minimum-phase, so the whole complex response must come back from the magnitude. */
static void test_random_cascades(void)
{
  CwComplex *back = cw_alloc_complex(BINS);

  for (int round = 0; round < 40; round++) {
    CwCoefficients cascade[6];
    random_cascade(cascade, 6, RATE_HZ);
    CwComplex *response = response_of(cascade, 6);
    double *magnitude = magnitude_of(response), worst = 0;
    cw_minimum_phase(magnitude, LENGTH, back, NULL);
    for (size_t i = 1; i < BINS - 1; i++)
      worst = fmax(worst, cabs(back[i] / response[i] - 1));
    check_below("complex response from its magnitude", worst, 1e-6);
    cw_free(response);
    cw_free(magnitude);
  }
  cw_free(back);
}

static void check_fir(const char *id, const double *taps, size_t count)
{
  double *padded = cw_alloc_real(LENGTH), *magnitude;
  CwComplex *response = cw_alloc_complex(BINS);

  memcpy(padded, taps, count * sizeof *taps);
  cw_fft_forward(cw_fft_get(LENGTH), padded, response);
  magnitude = magnitude_of(response);
  cw_minimum_phase(magnitude, LENGTH, response, NULL);
  cw_fft_inverse(cw_fft_get(LENGTH), response, padded);
  g_assert_cmpuint(check_rows(id), ==, count);
  for (size_t i = 0; i < count; i++) {
    char *key = g_strdup_printf("%zu", i);
    check_near(id, padded[i], check_number(id, key), check_tolerance(id, "abs"));
    g_free(key);
  }
  check_below("beyond the last tap", fabs(padded[count]), 1e-9);
  cw_free(padded);
  cw_free(magnitude);
  cw_free(response);
}

static void test_fir(void)
{
  check_fir("min.fir", (double[]){1, 2.5, 1}, 3);
  check_fir("min.fir2", (double[]){0.25, -1, 0.5, 0.125}, 4);
}

/* A delay of 37.25 samples is what is left when the minimum phase is taken off. */
static void test_delayed(void)
{
  const char *id = "min.delayed";
  double *excess = cw_alloc_real(BINS), *minimum = cw_alloc_real(BINS), *delay = cw_alloc_real(BINS),
         *magnitude;
  CwCoefficients coefficients;

  cw_section_design(&(CwSection){CW_SECTION_PEAKING, 1000, 6, 1}, RATE_HZ, &coefficients);
  CwComplex *response = response_of(&coefficients, 1);
  magnitude = magnitude_of(response);
  for (size_t i = 0; i < BINS; i++)
    response[i] *= cexp(-2 * G_PI * I * (double)i * 37.25 / LENGTH);
  cw_excess_phase(response, LENGTH, excess);
  cw_minimum_phase(magnitude, LENGTH, NULL, minimum);
  for (size_t i = 0; i < check_rows(id); i++) {
    size_t bin = (size_t)lrint(check_cell(id, i, "Hz") / BIN_HZ);
    cw_group_delay(minimum, BINS, BIN_HZ, delay);
    check_near(id, delay[bin] * 1000, check_cell(id, i, "min gd ms"), check_tolerance(id, "abs.ms"));
    cw_group_delay(excess, BINS, BIN_HZ, delay);
    check_near(id, delay[bin] * 1000, check_cell(id, i, "excess gd ms"), check_tolerance(id, "abs.ms"));
    check_near(id, excess[bin] * DEGREES, check_cell(id, i, "excess deg"), check_tolerance(id, "abs.deg"));
  }
  cw_free(response);
  cw_free(magnitude);
  cw_free(minimum);
  cw_free(excess);
  cw_free(delay);
}

/* An all-pass has no minimum phase at all: phase and group delay against scipy.signal.freqz and group_delay.
 */
static void test_all_pass(void)
{
  const char *id = "min.allpass";

  for (size_t i = 0; i < check_rows(id); i++) {
    double hz = check_cell(id, i, "Hz"), step_hz = hz / 1e5, phase[3], delay[3], excess_bin;
    CwSection section = {CW_SECTION_ALL_PASS, check_cell(id, i, "f0"), 0, check_cell(id, i, "Q")};
    CwCoefficients coefficients;
    CwComplex response[3], *whole;
    double *excess = cw_alloc_real(BINS);

    if (fabs(section.q - G_SQRT2 / 2) < 1e-8)
      section.q = G_SQRT2 / 2; /* printed with nine digits */
    cw_section_design(&section, RATE_HZ, &coefficients);
    for (int k = 0; k < 3; k++)
      response[k] = cw_coefficients_response(&coefficients, hz + (k - 1) * step_hz, RATE_HZ);
    cw_phase_of(response, 3, phase);
    cw_group_delay(phase, 3, step_hz, delay);
    double off = phase[1] * DEGREES - check_cell(id, i, "deg");
    check_near(id, remainder(off, 360), 0, check_tolerance(id, "abs.deg"));
    check_near_relative(id, delay[1] * 1000, check_cell(id, i, "gd ms"), check_tolerance(id, "rel.gd"));

    whole = response_of(&coefficients, 1);
    cw_excess_phase(whole, LENGTH, excess);
    excess_bin = rint(hz / BIN_HZ);
    double own = carg(cw_coefficients_response(&coefficients, excess_bin * BIN_HZ, RATE_HZ));
    check_below("all of the phase is excess", fabs(remainder(excess[(size_t)excess_bin] - own, 2 * G_PI)),
                1e-9);
    cw_free(whole);
    cw_free(excess);
  }
}

/* min.allpass_dc, analogue; seen at 20 kHz for a part of 1e-4 by the bilinear transform's stretch at 0 Hz. */
static void test_all_pass_at_0_hz(void)
{
  static const CwSection sections[] = {{CW_SECTION_ALL_PASS, 80, 0, G_SQRT2 / 2},
                                       {CW_SECTION_ALL_PASS, 300, 0, 0.5},
                                       {CW_SECTION_ALL_PASS, 2500, 0, 2}};
  static const char *const keys[] = {"80", "300", "2500"};

  for (size_t i = 0; i < G_N_ELEMENTS(sections); i++) {
    double rate_hz = 64 * sections[i].frequency_hz, step_hz = sections[i].frequency_hz * 1e-6, x = G_PI / 64,
           phase[3], delay[3];
    CwCoefficients coefficients;
    CwComplex response[3];
    cw_section_design(&sections[i], rate_hz, &coefficients);
    for (int k = 0; k < 3; k++)
      response[k] = cw_coefficients_response(&coefficients, (k - 1) * step_hz, rate_hz);
    cw_phase_of(response, 3, phase);
    cw_group_delay(phase, 3, step_hz, delay);
    check_near_relative("min.allpass_dc", 1000 * delay[1] * tan(x) / x,
                        check_number("min.allpass_dc", keys[i]), check_tolerance("min.allpass_dc", "rel"));
  }
}

/* Unwrapping brings back any phase that moves less than half a turn a step. */
static void test_unwrap(void)
{
  double phase[2000], wrapped[2000];

  phase[0] = wrapped[0] = 0.3;
  for (size_t i = 1; i < G_N_ELEMENTS(phase); i++) {
    phase[i] = phase[i - 1] + g_test_rand_double_range(-3.1, i < 1000 ? 2.5 : 3.1);
    wrapped[i] = remainder(phase[i], 2 * G_PI);
  }
  cw_phase_unwrap(wrapped, G_N_ELEMENTS(wrapped));
  for (size_t i = 0; i < G_N_ELEMENTS(phase); i++)
    check_below("unwrapped", fabs(wrapped[i] - phase[i]), 1e-9);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/phase/minimum-phase", test_minimum_phase);
  g_test_add_func("/phase/random-cascades", test_random_cascades);
  g_test_add_func("/phase/fir", test_fir);
  g_test_add_func("/phase/delayed", test_delayed);
  g_test_add_func("/phase/all-pass", test_all_pass);
  g_test_add_func("/phase/all-pass-at-0-hz", test_all_pass_at_0_hz);
  g_test_add_func("/phase/unwrap", test_unwrap);
  return g_test_run();
}
