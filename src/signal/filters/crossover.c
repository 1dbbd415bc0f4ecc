/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/filters/crossover.h"
#include <math.h>
#include <string.h>

#define MOST_ORDER 8

static const char *const names[CW_FILTER_FAMILIES] = {
    [CW_FILTER_BUTTERWORTH] = "butterworth",
    [CW_FILTER_LINKWITZ_RILEY] = "linkwitz-riley",
    [CW_FILTER_BESSEL] = "bessel",
    [CW_FILTER_BESSEL_PHASE] = "bessel-phase",
    [CW_FILTER_BESSEL_DELAY] = "bessel-delay",
};

const char *cw_filter_family_name(CwFilterFamily family)
{
  return family >= 0 && family < CW_FILTER_FAMILIES ? names[family] : "unknown";
}

CwFilterFamily cw_filter_family_from_name(const char *name)
{
  int family = 0;
  while (family < CW_FILTER_FAMILIES && strcmp(names[family], name) != 0)
    family++;
  return (CwFilterFamily)family;
}

/* One analogue low-pass section of a corner of 1 rad/s: its own frequency, and its Q (0 for a first-order
 * section). */
typedef struct {
  double frequency, q;
} Prototype;

static size_t butterworth_prototype(int order, Prototype *out)
{
  size_t count = 0;
  if (order % 2)
    out[count++] = (Prototype){1, 0};
  for (int k = 1; k <= order / 2; k++)
    out[count++] = (Prototype){1, 1 / (2 * sin((2 * k - 1) * M_PI / (2 * order)))};
  return count;
}

/* Coefficients of the reverse Bessel polynomial, lowest power first: (2n-k)! / (2^(n-k) k! (n-k)!). */
static void bessel_polynomial(int order, double *coefficient)
{
  for (int k = 0; k <= order; k++)
    coefficient[k] =
        exp(lgamma(2 * order - k + 1) - (order - k) * M_LN2 - lgamma(k + 1) - lgamma(order - k + 1));
  for (int k = 0; k <= order; k++)
    coefficient[k] = rint(coefficient[k]);
}

static CwComplex evaluate(const double *coefficient, int order, CwComplex s)
{
  CwComplex value = 0;
  for (int k = order; k >= 0; k--)
    value = value * s + coefficient[k];
  return value;
}

/* All roots at once by the Durand-Kerner iteration; the leading coefficient is 1. */
static void roots_of(const double *coefficient, int order, CwComplex *root)
{
  for (int i = 0; i < order; i++)
    root[i] = (double)order * cpow(0.4 + 0.9 * I, i);
  for (int round = 0; round < 500; round++) {
    double moved = 0;
    for (int i = 0; i < order; i++) {
      CwComplex apart = 1, step;
      for (int j = 0; j < order; j++)
        apart *= i == j ? 1 : root[i] - root[j];
      step = evaluate(coefficient, order, root[i]) / apart;
      root[i] -= step;
      moved = fmax(moved, cabs(step) / cabs(root[i]));
    }
    if (moved < 1e-16)
      break;
  }
}

/* The frequency at which the delay-normalised filter is at half power. */
static double bessel_half_power(const double *coefficient, int order)
{
  double low = 0.1, high = 10;
  for (int i = 0; i < 200; i++) {
    double middle = 0.5 * (low + high),
           ratio = coefficient[0] / cabs(evaluate(coefficient, order, I * middle));
    if (ratio * ratio > 0.5)
      low = middle;
    else
      high = middle;
  }
  return 0.5 * (low + high);
}

static size_t bessel_prototype(CwFilterFamily family, int order, Prototype *out)
{
  double coefficient[MOST_ORDER + 1], scale = 1;
  CwComplex root[MOST_ORDER];
  size_t count = 0;

  bessel_polynomial(order, coefficient);
  roots_of(coefficient, order, root);
  if (family == CW_FILTER_BESSEL)
    scale = bessel_half_power(coefficient, order);
  else if (family == CW_FILTER_BESSEL_PHASE)
    scale = pow(coefficient[0], 1.0 / order);
  for (int i = 0; i < order; i++) {
    double radius = cabs(root[i]);
    if (fabs(cimag(root[i])) < 1e-9 * radius)
      out[count++] = (Prototype){radius / scale, 0};
    else if (cimag(root[i]) > 0)
      out[count++] = (Prototype){radius / scale, radius / (-2 * creal(root[i]))};
  }
  return count;
}

static void digital_section(const Prototype *p, CwPass pass, double tan_corner, double rate_hz,
                            CwCoefficients *c, CwSection *s)
{
  double k = pass == CW_LOW_PASS ? tan_corner * p->frequency : tan_corner / p->frequency;
  double side = pass == CW_LOW_PASS ? 1 : -1, gain, a0;

  if (p->q == 0) {
    a0 = 1 + k;
    gain = (pass == CW_LOW_PASS ? k : 1) / a0;
    *c = (CwCoefficients){{gain, side * gain, 0}, {1, (k - 1) / a0, 0}};
  } else {
    a0 = 1 + k / p->q + k * k;
    gain = (pass == CW_LOW_PASS ? k * k : 1) / a0;
    *c = (CwCoefficients){{gain, side * 2 * gain, gain},
                          {1, 2 * (k * k - 1) / a0, (1 - k / p->q + k * k) / a0}};
  }
  if (s) {
    s->kind = pass == CW_LOW_PASS ? (p->q == 0 ? CW_SECTION_LOW_PASS_FIRST : CW_SECTION_LOW_PASS)
                                  : (p->q == 0 ? CW_SECTION_HIGH_PASS_FIRST : CW_SECTION_HIGH_PASS);
    s->frequency_hz = atan(k) * rate_hz / M_PI;
    s->gain_db = 0;
    s->q = p->q == 0 ? 0.5 : p->q;
  }
}

size_t cw_crossover_design(CwFilterFamily family, CwPass pass, int order, double corner_hz, double rate_hz,
                           CwCoefficients *coefficients, CwSection *sections)
{
  Prototype prototype[MOST_ORDER];
  size_t count = 0, repeats = 1;
  double tan_corner = tan(M_PI * corner_hz / rate_hz);

  if (order < 1 || order > MOST_ORDER || !(corner_hz > 0 && corner_hz < rate_hz / 2))
    return 0;
  if (family == CW_FILTER_BUTTERWORTH) {
    count = butterworth_prototype(order, prototype);
  } else if (family == CW_FILTER_LINKWITZ_RILEY) {
    if (order % 2)
      return 0;
    count = butterworth_prototype(order / 2, prototype);
    repeats = 2;
    if (prototype[0].q == 0) { /* two first-order sections are one of Q 0.5 */
      prototype[count] = (Prototype){1, 0.5};
      for (size_t i = 1; i < count; i++)
        prototype[count + i] = prototype[i];
      memmove(prototype, prototype + 1, (2 * count - 1) * sizeof *prototype);
      count = 2 * count - 1;
      repeats = 1;
    }
  } else if (family < CW_FILTER_FAMILIES) {
    count = bessel_prototype(family, order, prototype);
  }
  for (size_t r = 0; r < repeats; r++)
    for (size_t i = 0; i < count; i++)
      digital_section(&prototype[i], pass, tan_corner, rate_hz, &coefficients[r * count + i],
                      sections ? &sections[r * count + i] : NULL);
  return count * repeats;
}
