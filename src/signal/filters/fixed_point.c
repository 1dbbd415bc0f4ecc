/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/filters/fixed_point.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

#define ERROR_POINTS 2001
#define ERROR_LOW_HZ 20.0
#define ERROR_HIGH_HZ 20000.0
#define ERROR_FLOOR_DB (-60.0)

bool cw_fixed_format_valid(CwFixedFormat format)
{
  int bits = cw_fixed_format_bits(format);
  return format.integer_bits >= 1 && format.integer_bits <= 8 && format.fraction_bits >= 15 &&
         format.fraction_bits <= 31 && bits >= 16 && bits <= 32;
}

int cw_fixed_format_bits(CwFixedFormat format)
{
  return format.integer_bits + format.fraction_bits;
}

static const char *read_digits(const char *text, int *number)
{
  const char *end = text;

  *number = 0;
  while (*end >= '0' && *end <= '9' && end - text < 3)
    *number = *number * 10 + (*end++ - '0');
  return end == text ? NULL : end;
}

bool cw_fixed_format_parse(const char *text, CwFixedFormat *format)
{
  CwFixedFormat read;
  const char *rest = read_digits(text + (*text == 'Q' || *text == 'q'), &read.integer_bits);

  if (!rest || *rest != '.')
    return false;
  rest = read_digits(rest + 1, &read.fraction_bits);
  if (!rest || *rest || !cw_fixed_format_valid(read))
    return false;
  *format = read;
  return true;
}

int64_t cw_fixed_code(CwFixedFormat format, double value, bool *saturated)
{
  double most = ldexp(1, cw_fixed_format_bits(format) - 1),
         code = isnan(value) ? 0 : round(ldexp(value, format.fraction_bits));
  bool outside = isnan(value) || code < -most || code > most - 1;

  if (saturated)
    *saturated = outside;
  return (int64_t)fmin(fmax(code, -most), most - 1);
}

double cw_fixed_value(CwFixedFormat format, int64_t code)
{
  return ldexp((double)code, -format.fraction_bits);
}

void cw_fixed_hex(CwFixedFormat format, int64_t code, char *text, size_t room)
{
  int bits = cw_fixed_format_bits(format);
  uint64_t mask = (UINT64_C(1) << bits) - 1;

  snprintf(text, room, "%0*llX", (bits + 3) / 4, (unsigned long long)((uint64_t)code & mask));
}

static void measure_error(const CwCoefficients *section, double rate_hz, CwFixedSection *result)
{
  double high_hz = fmin(ERROR_HIGH_HZ, 0.499 * rate_hz);

  for (int i = 0; i < ERROR_POINTS; i++) {
    double hz = ERROR_LOW_HZ * pow(high_hz / ERROR_LOW_HZ, (double)i / (ERROR_POINTS - 1));
    double before_db = 20 * log10(cabs(cw_coefficients_response(section, hz, rate_hz)));
    if (!(before_db > ERROR_FLOOR_DB))
      continue;
    double after_db = 20 * log10(cabs(cw_coefficients_response(&result->read_back, hz, rate_hz)));
    if (fabs(after_db - before_db) > result->worst_error_db) {
      result->worst_error_db = fabs(after_db - before_db);
      result->worst_hz = hz;
    }
  }
}

/* The power of two that brings the numerator into range, 1 where it is. */
static double scale_to_fit(CwFixedFormat format, const double *b)
{
  double scale = 1;

  for (bool saturated = true; saturated && scale > 1e-9;) {
    saturated = false;
    for (int i = 0; i < 3; i++) {
      bool outside;
      cw_fixed_code(format, b[i] * scale, &outside);
      saturated |= outside;
    }
    scale *= saturated ? 0.5 : 1;
  }
  return scale;
}

/* How many bits before the point hold the value. */
static int integer_bits_for(double value)
{
  int bits = 1;
  while (bits < 64 && !(value >= -ldexp(1, bits - 1) && value < ldexp(1, bits - 1)))
    bits++;
  return bits;
}

static void advise_on_range(CwFixedFormat format, const CwCoefficients *section, const bool *outside,
                            CwFixedSection *result)
{
  static const char *const names[] = {"b0", "b1", "b2", "a1", "a2"};
  const double values[] = {section->b[0], section->b[1], section->b[2], section->a[1], section->a[2]};
  int worst = -1;

  for (int i = 0; i < 5; i++)
    if (outside[i] && (worst < 0 || fabs(values[i]) > fabs(values[worst])))
      worst = i;
  int bits = integer_bits_for(values[worst]);
  if (outside[3] || outside[4])
    snprintf(result->advice, sizeof result->advice,
             "%s = %.6g does not fit %d.%d: take a format with %d bits before the point", names[worst],
             values[worst], format.integer_bits, format.fraction_bits, bits);
  else
    snprintf(result->advice, sizeof result->advice,
             "%s = %.6g does not fit %d.%d: scale b0, b1 and b2 by %.6g and add %.2f dB after the section, "
             "or take %d bits before the point",
             names[worst], values[worst], format.integer_bits, format.fraction_bits, result->numerator_scale,
             -20 * log10(result->numerator_scale), bits);
}

static CwFixedVerdict judge(CwFixedFormat format, const CwCoefficients *section, const bool *outside,
                            CwFixedSection *result)
{
  if (!(cw_coefficients_pole_radius(section) < 1)) {
    snprintf(result->advice, sizeof result->advice, "unstable before rounding: design the section again");
    return CW_FIXED_UNSTABLE_BEFORE;
  }
  for (int i = 0; i < 5; i++)
    if (outside[i]) {
      advise_on_range(format, section, outside, result);
      return CW_FIXED_RANGE;
    }
  if (!(result->pole_radius < 1)) {
    snprintf(result->advice, sizeof result->advice,
             "rounding to %d.%d makes it unstable: lower the sample rate, the order or the Q, raise the "
             "frequency, or take more "
             "bits after the point",
             format.integer_bits, format.fraction_bits);
    return CW_FIXED_UNSTABLE;
  }
  return CW_FIXED_FITS;
}

CwFixedVerdict cw_fixed_section(CwFixedFormat format, const CwCoefficients *section, double rate_hz,
                                CwFixedSection *result)
{
  bool outside[5];

  memset(result, 0, sizeof *result);
  result->read_back.a[0] = 1;
  for (int i = 0; i < 3; i++) {
    result->b[i] = cw_fixed_code(format, section->b[i], &outside[i]);
    result->read_back.b[i] = cw_fixed_value(format, result->b[i]);
  }
  for (int i = 1; i < 3; i++) {
    result->a[i] = cw_fixed_code(format, section->a[i], &outside[2 + i]);
    result->read_back.a[i] = cw_fixed_value(format, result->a[i]);
  }
  result->numerator_scale = scale_to_fit(format, section->b);
  result->pole_radius = cw_coefficients_pole_radius(&result->read_back);
  result->verdict = judge(format, section, outside, result);
  if (result->pole_radius < 1)
    measure_error(section, rate_hz, result);
  else
    result->worst_error_db = INFINITY;
  return result->verdict;
}
