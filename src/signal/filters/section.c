/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/filters/section.h"
#include <math.h>
#include <string.h>

/* What the designs share, by the W3C Audio EQ Cookbook's names: A, cos w0, sin w0, alpha, and tan(w0/2). */
typedef struct {
  double amplitude, cos_w, sin_w, alpha, q, tangent;
} Prototype;

static void set(CwCoefficients *c, double b0, double b1, double b2, double a0, double a1, double a2)
{
  *c = (CwCoefficients){{b0 / a0, b1 / a0, b2 / a0}, {1, a1 / a0, a2 / a0}};
}

static void design_peaking(const Prototype *p, CwCoefficients *c)
{
  set(c, 1 + p->alpha * p->amplitude, -2 * p->cos_w, 1 - p->alpha * p->amplitude, 1 + p->alpha / p->amplitude,
      -2 * p->cos_w, 1 - p->alpha / p->amplitude);
}

static void design_shelf(const Prototype *p, double side, CwCoefficients *c)
{
  double amplitude = p->amplitude, up = amplitude + 1, down = amplitude - 1, cos_w = p->cos_w,
         slope = 2 * sqrt(amplitude) * p->sin_w / (2 * p->q);

  set(c, amplitude * (up + side * down * cos_w + slope), -side * 2 * amplitude * (down + side * up * cos_w),
      amplitude * (up + side * down * cos_w - slope), up - side * down * cos_w + slope,
      side * 2 * (down - side * up * cos_w), up - side * down * cos_w - slope);
}

static void design_low_shelf(const Prototype *p, CwCoefficients *c)
{
  design_shelf(p, -1, c);
}

static void design_high_shelf(const Prototype *p, CwCoefficients *c)
{
  design_shelf(p, 1, c);
}

static void design_notch(const Prototype *p, CwCoefficients *c)
{
  set(c, 1, -2 * p->cos_w, 1, 1 + p->alpha, -2 * p->cos_w, 1 - p->alpha);
}

static void design_all_pass(const Prototype *p, CwCoefficients *c)
{
  set(c, 1 - p->alpha, -2 * p->cos_w, 1 + p->alpha, 1 + p->alpha, -2 * p->cos_w, 1 - p->alpha);
}

static void design_low_pass(const Prototype *p, CwCoefficients *c)
{
  set(c, (1 - p->cos_w) / 2, 1 - p->cos_w, (1 - p->cos_w) / 2, 1 + p->alpha, -2 * p->cos_w, 1 - p->alpha);
}

static void design_high_pass(const Prototype *p, CwCoefficients *c)
{
  set(c, (1 + p->cos_w) / 2, -1 - p->cos_w, (1 + p->cos_w) / 2, 1 + p->alpha, -2 * p->cos_w, 1 - p->alpha);
}

static void design_band_pass(const Prototype *p, CwCoefficients *c)
{
  set(c, p->alpha, 0, -p->alpha, 1 + p->alpha, -2 * p->cos_w, 1 - p->alpha);
}

static void design_all_pass_first(const Prototype *p, CwCoefficients *c)
{
  double k = p->tangent;
  set(c, k - 1, k + 1, 0, 1 + k, k - 1, 0);
}

static void design_low_pass_first(const Prototype *p, CwCoefficients *c)
{
  double k = p->tangent;
  set(c, k, k, 0, 1 + k, k - 1, 0);
}

static void design_high_pass_first(const Prototype *p, CwCoefficients *c)
{
  double k = p->tangent;
  set(c, 1, -1, 0, 1 + k, k - 1, 0);
}

/* All that is to be known of a kind: a new one is a row here, its design above, and a word for the screen. */
static const struct {
  const char *name;
  bool has_gain, has_q;
  void (*design)(const Prototype *prototype, CwCoefficients *coefficients);
} kinds[] = {
    [CW_SECTION_LOW_PASS] = {"low-pass", false, true, design_low_pass},
    [CW_SECTION_HIGH_PASS] = {"high-pass", false, true, design_high_pass},
    [CW_SECTION_PEAKING] = {"peaking", true, true, design_peaking},
    [CW_SECTION_LOW_SHELF] = {"low-shelf", true, true, design_low_shelf},
    [CW_SECTION_HIGH_SHELF] = {"high-shelf", true, true, design_high_shelf},
    [CW_SECTION_NOTCH] = {"notch", false, true, design_notch},
    [CW_SECTION_ALL_PASS] = {"all-pass", false, true, design_all_pass},
    [CW_SECTION_ALL_PASS_FIRST] = {"all-pass-first", false, false, design_all_pass_first},
    [CW_SECTION_LOW_PASS_FIRST] = {"low-pass-first", false, false, design_low_pass_first},
    [CW_SECTION_HIGH_PASS_FIRST] = {"high-pass-first", false, false, design_high_pass_first},
    [CW_SECTION_BAND_PASS] = {"band-pass", false, true, design_band_pass},
};
_Static_assert(sizeof kinds / sizeof *kinds == CW_SECTION_KINDS, "every kind of section has its row");

const char *cw_section_kind_name(CwSectionKind kind)
{
  return kind >= 0 && kind < CW_SECTION_KINDS ? kinds[kind].name : "unknown";
}

CwSectionKind cw_section_kind_from_name(const char *name)
{
  int kind = 0;
  while (kind < CW_SECTION_KINDS && strcmp(kinds[kind].name, name) != 0)
    kind++;
  return (CwSectionKind)kind;
}

bool cw_section_kind_has_gain(CwSectionKind kind)
{
  return kind >= 0 && kind < CW_SECTION_KINDS && kinds[kind].has_gain;
}

bool cw_section_kind_has_q(CwSectionKind kind)
{
  return kind >= 0 && kind < CW_SECTION_KINDS && kinds[kind].has_q;
}

bool cw_section_design(const CwSection *s, double rate_hz, CwCoefficients *c)
{
  double w = 2 * M_PI * s->frequency_hz / rate_hz;
  double q = cw_section_kind_has_q(s->kind) ? s->q : 1,
         gain_db = cw_section_kind_has_gain(s->kind) ? s->gain_db : 0;

  set(c, 1, 0, 0, 1, 0, 0);
  if (!(s->frequency_hz > 0 && s->frequency_hz < rate_hz / 2 && q > 0 && q < 1e6 && fabs(gain_db) < 200) ||
      s->kind < 0 || s->kind >= CW_SECTION_KINDS)
    return false;
  Prototype p = {.amplitude = pow(10, gain_db / 40), .cos_w = cos(w), .sin_w = sin(w), .q = q,
                 .tangent = tan(w / 2)};
  p.alpha = p.sin_w / (2 * q);
  kinds[s->kind].design(&p, c);
  return true;
}

/* 1/z - 1 at an angle, without the loss of figures that subtracting 1 would bring at low frequencies. */
static CwComplex step_at(double w)
{
  double half = sin(0.5 * w);
  return -2 * half * half - I * sin(w);
}

/* p0 + p1 / z + p2 / z^2 with step = 1/z - 1. The plain form cancels: at 20 Hz and 96 kHz the sum is a
 * millionth of its parts. */
static CwComplex polynomial(double p0, double p1, double p2, CwComplex step)
{
  return (p0 + p1 + p2) + step * ((p1 + 2 * p2) + p2 * step);
}

CwComplex cw_coefficients_response(const CwCoefficients *c, double hz, double rate_hz)
{
  CwComplex step = step_at(2 * M_PI * hz / rate_hz);
  return polynomial(c->b[0], c->b[1], c->b[2], step) / polynomial(1, c->a[1], c->a[2], step);
}

void cw_cascade_response(const CwCoefficients *cascade, size_t sections, double rate_hz, const double *hz,
                         size_t count, bool multiply, CwComplex *response)
{
  for (size_t i = 0; i < count; i++) {
    CwComplex step = step_at(2 * M_PI * hz[i] / rate_hz), over = 1, under = 1;

    for (size_t k = 0; k < sections; k++) {
      over *= polynomial(cascade[k].b[0], cascade[k].b[1], cascade[k].b[2], step);
      under *= polynomial(1, cascade[k].a[1], cascade[k].a[2], step);
    }
    response[i] = (multiply ? response[i] : 1) * over / under;
  }
}

void cw_cascade_run_stream(const CwCoefficients *cascade, size_t sections, double *state, double *samples,
                           size_t count)
{
  for (size_t k = 0; k < sections; k++) {
    const double b0 = cascade[k].b[0], b1 = cascade[k].b[1], b2 = cascade[k].b[2], a1 = cascade[k].a[1],
                 a2 = cascade[k].a[2];
    double s1 = state[2 * k], s2 = state[2 * k + 1];

    for (size_t i = 0; i < count; i++) {
      double x = samples[i], y = b0 * x + s1;
      s1 = b1 * x - a1 * y + s2;
      s2 = b2 * x - a2 * y;
      samples[i] = y;
    }
    state[2 * k] = s1;
    state[2 * k + 1] = s2;
  }
}

void cw_cascade_run(const CwCoefficients *cascade, size_t sections, double *samples, size_t count)
{
  double *state = cw_alloc_real(2 * sections);
  cw_cascade_run_stream(cascade, sections, state, samples, count);
  cw_free(state);
}

double cw_coefficients_pole_radius(const CwCoefficients *c)
{
  double half = -c->a[1] / 2, discriminant = half * half - c->a[2];

  if (discriminant < 0)
    return sqrt(c->a[2]);
  return fmax(fabs(half + sqrt(discriminant)), fabs(half - sqrt(discriminant)));
}

double cw_q_from_octaves(double octaves)
{
  return 1 / (2 * sinh(0.5 * M_LN2 * octaves));
}

double cw_q_from_octaves_at(double octaves, double frequency_hz, double rate_hz)
{
  double w = 2 * M_PI * frequency_hz / rate_hz;
  return 1 / (2 * sinh(0.5 * M_LN2 * octaves * w / sin(w)));
}

double cw_q_from_shelf_slope(double gain_db, double slope)
{
  double amplitude = pow(10, gain_db / 40);
  return 1 / sqrt((amplitude + 1 / amplitude) * (1 / slope - 1) + 2);
}
