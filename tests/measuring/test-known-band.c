/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a response ends. The judge is a reader of his own: he averages the points that are shown within a
 * twelfth of an octave to either side of where he looks, and is held against the integral of the power
 * itself, which the test knows as a function of frequency. */
#include "measuring/known_band.h"
#include <glib.h>
#include <math.h>
#include <string.h>

#define POINTS 400
#define PER_OCTAVE 48

typedef double (*Power)(double octave);

static double flat(double octave)
{
  return 2;
}

/* 24 dB an octave up to the eighth octave's middle, flat above. */
static double steep(double octave)
{
  return pow(10, 2.4 * fmin(octave - 4, 0));
}

/* As steep, with the dips and peaks of a reflection. */
static double ragged(double octave)
{
  return steep(octave) * (1.05 + cos(25 * octave));
}

static double mean_power(Power power, double middle, double octaves)
{
  double sum = 0, weight = 0;

  for (int i = 0; i < 200; i++) { /* over frequency, not over its logarithm */
    double octave = middle + octaves * ((i + 0.5) / 200 - 0.5);
    sum += exp2(octave) * power(octave);
    weight += exp2(octave);
  }
  return sum / weight;
}

static void settle(Power power, gsize first, gsize last, bool *known)
{
  double mean[POINTS], window_mean[2 * POINTS];

  for (gsize i = 0; i < POINTS; i++) {
    known[i] = i >= first && i <= last;
    mean[i] = mean_power(power, (double)i / PER_OCTAVE, 1.0 / 24);
    window_mean[2 * i] = mean_power(power, (double)i / PER_OCTAVE, 1.0 / 6);
    window_mean[2 * i + 1] = mean_power(power, (i + 0.5) / PER_OCTAVE, 1.0 / 6);
  }
  cw_known_band_settle(mean, window_mean, POINTS, PER_OCTAVE, known);
}

/* The worst that the reader is misled by anywhere between the first and the last point shown. */
static double misled_db(Power power, const bool *known)
{
  gsize first = 0, last = POINTS - 1;
  double worst = 0;

  while (!known[first])
    first++;
  while (!known[last])
    last--;
  for (double octave = (double)first / PER_OCTAVE + 1e-4; octave < (double)last / PER_OCTAVE;
       octave += 0.011) {
    double sum = 0, count = 0;
    for (gsize i = first; i <= last; i++)
      if (known[i] && fabs((double)i / PER_OCTAVE - octave) < 1.0 / 12) {
        sum += mean_power(power, (double)i / PER_OCTAVE, 1.0 / 24);
        count++;
      }
    worst = fmax(worst, fabs(10 * log10(sum / count / mean_power(power, octave, 1.0 / 6))));
  }
  return worst;
}

static gsize count_known(const bool *known)
{
  gsize count = 0;
  for (gsize i = 0; i < POINTS; i++)
    count += known[i];
  return count;
}

static void test_nothing_lost(void)
{
  bool known[POINTS];

  settle(flat, 100, 300, known);
  g_assert_cmpuint(count_known(known), ==, 201);
  settle(steep, 250, 390, known);
  g_assert_cmpuint(count_known(known), ==, 141);
}

/* An end within half an octave of where the response is level is drawn in to there, and its reader is told
 * within 0.9 dB; lower on the slope nothing can be done, and nothing is made worse. At most half an octave is
 * given for it. */
static void test_ends(void)
{
  Power powers[] = {steep, ragged};

  for (gsize p = 0; p < G_N_ELEMENTS(powers); p++)
    for (gsize first = 120; first < 200; first += 5) {
      bool known[POINTS], untouched[POINTS];
      settle(powers[p], first, 370, known);
      for (gsize i = 0; i < POINTS; i++)
        untouched[i] = i >= first && i <= 370;
      g_assert_cmpuint(count_known(known) + PER_OCTAVE, >=, count_known(untouched));
      g_test_message("%s from %zu: %.2f dB as it was, %.2f dB over %zu points", p ? "ragged" : "steep", first,
                     misled_db(powers[p], untouched), misled_db(powers[p], known), count_known(known));
      double bar = first > 168 ? 0.9 : fmax(0.9, misled_db(powers[p], untouched) + 1e-9);
      g_assert_cmpfloat(misled_db(powers[p], known), <=, bar);
    }
}

/* Islands shorter than a window go; gaps in the middle stay as they are. */
static void test_islands_and_gaps(void)
{
  bool known[POINTS];
  double mean[POINTS], window_mean[2 * POINTS];

  for (gsize i = 0; i < POINTS; i++) {
    mean[i] = window_mean[2 * i] = window_mean[2 * i + 1] = 1;
    known[i] = (i >= 20 && i < 27) || (i >= 60 && i < 150) || (i >= 155 && i < 300) || i == 333;
  }
  cw_known_band_settle(mean, window_mean, POINTS, PER_OCTAVE, known);
  g_assert_cmpuint(count_known(known), ==, 90 + 145);
  g_assert_true(known[60] && !known[152] && known[299]);
  memset(known, 0, sizeof known);
  cw_known_band_settle(mean, window_mean, POINTS, PER_OCTAVE, known);
  g_assert_cmpuint(count_known(known), ==, 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/measuring/known-band/nothing-lost", test_nothing_lost);
  g_test_add_func("/measuring/known-band/ends", test_ends);
  g_test_add_func("/measuring/known-band/islands-and-gaps", test_islands_and_gaps);
  return g_test_run();
}
