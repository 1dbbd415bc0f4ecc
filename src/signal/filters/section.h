/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/memory.h"
#include <stdbool.h>

/* Second-order sections. y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] - a1 y[n-1] - a2 y[n-2], with a[0] = 1. */
typedef struct {
  double b[3];
  double a[3];
} CwCoefficients;

/* The kinds of section. Those that a person chooses from come first, in the order of the choice; records and
 * files name them by cw_section_kind_name(). */
typedef enum {
  CW_SECTION_LOW_PASS,
  CW_SECTION_HIGH_PASS,
  CW_SECTION_PEAKING,
  CW_SECTION_LOW_SHELF,
  CW_SECTION_HIGH_SHELF,
  CW_SECTION_NOTCH,
  CW_SECTION_ALL_PASS,
  CW_SECTION_KINDS_OFFERED,
  CW_SECTION_ALL_PASS_FIRST = CW_SECTION_KINDS_OFFERED, /* q is not used by the three first-order kinds */
  CW_SECTION_LOW_PASS_FIRST,
  CW_SECTION_HIGH_PASS_FIRST,
  CW_SECTION_BAND_PASS, /* 0 dB at its centre */
  CW_SECTION_KINDS,
} CwSectionKind;

/* What a section is asked to do. gain_db counts for peaking and shelves alone. */
typedef struct {
  CwSectionKind kind;
  double frequency_hz; /* above 0 and below half the rate */
  double gain_db;
  double q; /* above 0 */
} CwSection;

/* The kind's name in files ("peaking", "low-shelf", "all-pass" ...), and back; CW_SECTION_KINDS for an
 * unknown name. */
const char *cw_section_kind_name(CwSectionKind kind);
CwSectionKind cw_section_kind_from_name(const char *name);
bool cw_section_kind_has_gain(CwSectionKind kind);
bool cw_section_kind_has_q(CwSectionKind kind);

/* Coefficients at rate_hz by the W3C Audio EQ Cookbook (shelves by Q), first-order kinds by the bilinear
 * transform with pre-warping. Returns false, and a section that passes everything, where frequency, Q or gain
 * are out of range or not finite. */
bool cw_section_design(const CwSection *section, double rate_hz, CwCoefficients *coefficients);

/* Complex response at one frequency. */
CwComplex cw_coefficients_response(const CwCoefficients *coefficients, double hz, double rate_hz);

/* The response of a cascade at count frequencies, multiplied into response when multiply is true, else stored
 * there. */
void cw_cascade_response(const CwCoefficients *cascade, size_t sections, double rate_hz, const double *hz,
                         size_t count, bool multiply, CwComplex *response);

/* Runs a cascade over samples in place, from rest (transposed direct form 2). */
void cw_cascade_run(const CwCoefficients *cascade, size_t sections, double *samples, size_t count);

/* The same for a running stream: state holds two numbers a section and begins as zeros. */
void cw_cascade_run_stream(const CwCoefficients *cascade, size_t sections, double *state, double *samples,
                           size_t count);

/* The largest pole radius; below 1 is stable. */
double cw_coefficients_pole_radius(const CwCoefficients *coefficients);

/* Q of a peaking or band-pass section that is octaves wide between its half-gain points, by the Cookbook's
 * relations: of the analogue prototype, and of the section at frequency_hz and rate_hz, which the bilinear
 * transform would make narrower. */
double cw_q_from_octaves(double octaves);
double cw_q_from_octaves_at(double octaves, double frequency_hz, double rate_hz);

/* Q of a shelf whose slope is a part (0 to 1) of the steepest that does not overshoot; gain in dB. */
double cw_q_from_shelf_slope(double gain_db, double slope);
