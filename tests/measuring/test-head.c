/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arrivals on open data: head responses of the KEMAR manikin (Gardner and Martin, MIT Media Lab, 1994), as
 * Debian's libmysofa1 ships them. The difference of arrival between the ears must be the difference of the
 * responses' own onsets within 30 us, and in the horizontal plane it must order the directions as the rigid
 * sphere does (Woodworth, Experimental Psychology, 1938: a/c (sin x + x)). Skipped where the data is not
 * installed. */
#include <mysofa.h>

#include "../signal/signals.h"
#include "measuring/take.h"
#include "signal/response/arrival.h"
#include <string.h>

#define DATA "/usr/share/libmysofa/MIT_KEMAR_normal_pinna.sofa"
#define LENGTH 2048
#define FINER 16
#define LOW_HZ 200.0
#define HIGH_HZ 19000.0

static struct MYSOFA_HRTF *head;

static const float *response(unsigned direction, unsigned ear)
{
  return head->DataIR.values + ((gsize)direction * 2 + ear) * head->N;
}

static double rate_hz(void)
{
  return head->DataSamplingRate.values[0];
}

/* When |response| first reaches part of its top, between samples by exact interpolation. */
static double onset_us(unsigned direction, unsigned ear, double part)
{
  double *samples = cw_alloc_real(LENGTH), *fine = cw_alloc_real(LENGTH * FINER), top = 0;
  CwComplex *bins = cw_alloc_complex(LENGTH * FINER / 2 + 1);
  gsize i = 1;

  for (unsigned k = 0; k < head->N; k++)
    samples[k] = response(direction, ear)[k];
  cw_fft_forward(cw_fft_get(LENGTH), samples, bins);
  cw_fft_inverse(cw_fft_get(LENGTH * FINER), bins, fine);
  for (gsize k = 0; k < LENGTH * FINER; k++)
    top = fmax(top, fabs(fine[k]));
  while (fabs(fine[i]) < part * top)
    i++;
  double at = (double)i - (fabs(fine[i]) - part * top) / (fabs(fine[i]) - fabs(fine[i - 1]));
  cw_free(samples);
  cw_free(fine);
  cw_free(bins);
  return 1e6 * at / FINER / rate_hz();
}

static double arrival_us(unsigned direction, unsigned ear)
{
  double *samples = cw_alloc_real(LENGTH);
  CwComplex *bins = cw_alloc_complex(LENGTH / 2 + 1);
  CwArrival arrival;

  for (unsigned k = 0; k < head->N; k++)
    samples[k] = response(direction, ear)[k];
  cw_fft_forward(cw_fft_get(LENGTH), samples, bins);
  arrival = cw_arrival_find(bins, LENGTH, rate_hz(), LOW_HZ, HIGH_HZ, NULL, 30);
  cw_free(samples);
  cw_free(bins);
  return 1e6 * arrival.seconds;
}

/* Left after right. */
static double onset_difference(unsigned direction, double part)
{
  return onset_us(direction, 0, part) - onset_us(direction, 1, part);
}

static void test_onsets(void)
{
  unsigned clear = 0, within = 0;
  double worst = 0;

  for (unsigned m = 0; m < head->M; m++) {
    double early = onset_difference(m, 0.1), middle = onset_difference(m, 0.2),
           late = onset_difference(m, 0.3);
    double difference = arrival_us(m, 0) - arrival_us(m, 1), off = fabs(difference - middle);
    /* At the far ear sound comes round both sides of the head; where its onset depends on where one draws the
     * line, there is none to compare with. */
    if (fmax(fmax(early, middle), late) - fmin(fmin(early, middle), late) > 30)
      continue;
    clear++;
    within += off <= 30;
    worst = fmax(worst, off);
    if (off > 30)
      g_test_message("azimuth %g, elevation %g: onsets differ by %.1f us, arrivals by %.1f",
                     head->SourcePosition.values[3 * m], head->SourcePosition.values[3 * m + 1], middle,
                     difference);
  }
  g_test_message("%u of %u directions have an onset to compare with; %u within 30 us, worst %.1f us", clear,
                 head->M, within, worst);
  g_assert_cmpuint(clear, >, head->M * 8 / 10);
  g_assert_cmpfloat(worst, <=, 30);
}

/* Woodworth's difference for a source at an azimuth (positive to the left) and ear level. */
static double sphere_us(double azimuth)
{
  double side = asin(sin(azimuth * G_PI / 180)); /* front and back are alike */
  return -1e6 * 0.0875 / 343.2 * (sin(side) + side);
}

/* Of two directions that the sphere puts at least two bars apart, the manikin must put the same one later. */
static void test_order(void)
{
  GArray *sphere = g_array_new(FALSE, FALSE, sizeof(double)),
         *found = g_array_new(FALSE, FALSE, sizeof(double));
  guint pairs = 0;

  for (unsigned m = 0; m < head->M; m++) {
    if (head->SourcePosition.values[3 * m + 1] != 0)
      continue;
    double expected = sphere_us(head->SourcePosition.values[3 * m]),
           difference = arrival_us(m, 0) - arrival_us(m, 1);
    g_test_message("azimuth %g: %.1f us, sphere %.1f", head->SourcePosition.values[3 * m], difference,
                   expected);
    g_array_append_val(sphere, expected);
    g_array_append_val(found, difference);
  }
  g_assert_cmpuint(sphere->len, ==, 72);
  for (guint i = 0; i < sphere->len; i++)
    for (guint k = 0; k < sphere->len; k++)
      if (g_array_index(sphere, double, i) > g_array_index(sphere, double, k) + 60) {
        g_assert_cmpfloat(g_array_index(found, double, i), >, g_array_index(found, double, k));
        pairs++;
      }
  g_test_message("%u pairs in order", pairs);
  g_array_unref(sphere);
  g_array_unref(found);
}

int main(int argc, char **argv)
{
  int fault = 0, status;

  g_test_init(&argc, &argv, NULL);
  head = g_file_test(DATA, G_FILE_TEST_EXISTS) ? mysofa_load(DATA, &fault) : NULL;
  if (!head) {
    g_print("1..0 # SKIP no head responses at %s\n", DATA);
    return 0;
  }
  g_test_add_func("/measuring/head/onsets", test_onsets);
  g_test_add_func("/measuring/head/order", test_order);
  status = g_test_run();
  mysofa_free(head);
  return status;
}
