/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/section.h"
#include <stdint.h>

/* Two's complement numbers of integer_bits (the sign among them) before and fraction_bits after the binary
 * point: 1.31 has 32 bits and reaches from -1 to 1 - 2^-31, 5.23 from -16 to 16 - 2^-23. From 1 to 8 bits
 * before, 15 to 31 after, 16 to 32 together. */
typedef struct {
  int integer_bits, fraction_bits;
} CwFixedFormat;

/* Reads "1.31" or "Q1.31". Returns false, and leaves format alone, where the text is no such format or one
 * out of range. */
bool cw_fixed_format_parse(const char *text, CwFixedFormat *format);
bool cw_fixed_format_valid(CwFixedFormat format);
int cw_fixed_format_bits(CwFixedFormat format);

/* The code nearest to value (halves away from zero), held to the format's range; saturated, if not NULL,
 * tells whether it had to be. NAN counts as 0, saturated. */
int64_t cw_fixed_code(CwFixedFormat format, double value, bool *saturated);
double cw_fixed_value(CwFixedFormat format, int64_t code);

/* The code as upper-case hexadecimal two's complement, one digit for each four bits begun. room of 9 is
 * enough for all. */
void cw_fixed_hex(CwFixedFormat format, int64_t code, char *text, size_t room);

typedef enum {
  CW_FIXED_FITS,
  CW_FIXED_UNSTABLE_BEFORE, /* the section was unstable as it came */
  CW_FIXED_UNSTABLE,        /* rounding moved a pole out to the unit circle or beyond */
  CW_FIXED_RANGE,           /* a coefficient does not fit */
} CwFixedVerdict;

typedef struct {
  CwFixedVerdict verdict;
  int64_t b[3], a[3];       /* codes; a[0], which is always 1, is not stored by processors and stands as 0 */
  CwCoefficients read_back; /* what the codes mean; saturated where the verdict says so */
  double worst_error_db;    /* largest change in magnitude from 20 Hz to 20 kHz (or just below half the rate)
                               where the section itself    is above -60 dB; INFINITY when not stable */
  double worst_hz;          /* where that is */
  double pole_radius;       /* after rounding */
  double numerator_scale;   /* power of two by which b would have to be scaled to fit (made up by gain
                               elsewhere); 1 if it fits */
  char advice[160]; /* for a section that does not fit: what is wrong and what to do, in words; else empty */
} CwFixedSection;

/* Rounds a section to the format. Returns result->verdict; only CW_FIXED_FITS may be loaded into a processor.
 */
CwFixedVerdict cw_fixed_section(CwFixedFormat format, const CwCoefficients *section, double rate_hz,
                                CwFixedSection *result);
