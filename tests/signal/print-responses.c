/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For checks by other programs: reads one filter a line,
 *   section KIND FREQUENCY_HZ GAIN_DB Q RATE_HZ
 *   crossover FAMILY low|high ORDER CORNER_HZ RATE_HZ
 * each followed by the number of frequencies and the frequencies, and writes a line of real and imaginary
 * parts. */
#include "signal/filters/crossover.h"
#include <stdio.h>
#include <string.h>

static size_t read_filter(const char *what, CwCoefficients *cascade, double *rate_hz)
{
  char name[32], pass[8];
  CwSection section;
  double corner_hz;
  int order;

  if (strcmp(what, "section") == 0) {
    if (scanf("%31s %lf %lf %lf %lf", name, &section.frequency_hz, &section.gain_db, &section.q, rate_hz) !=
        5)
      return 0;
    section.kind = cw_section_kind_from_name(name);
    return cw_section_design(&section, *rate_hz, cascade) ? 1 : 0;
  }
  if (scanf("%31s %7s %d %lf %lf", name, pass, &order, &corner_hz, rate_hz) != 5)
    return 0;
  return cw_crossover_design(cw_filter_family_from_name(name),
                             strcmp(pass, "low") == 0 ? CW_LOW_PASS : CW_HIGH_PASS, order, corner_hz,
                             *rate_hz, cascade, NULL);
}

int main(void)
{
  CwCoefficients cascade[CW_CROSSOVER_MOST_SECTIONS];
  char what[16];
  double rate_hz;

  while (scanf("%15s", what) == 1) {
    size_t sections = read_filter(what, cascade, &rate_hz), count;
    if (sections == 0 || scanf("%zu", &count) != 1)
      return 1;
    for (size_t i = 0; i < count; i++) {
      CwComplex response;
      double hz;
      if (scanf("%lf", &hz) != 1)
        return 1;
      cw_cascade_response(cascade, sections, rate_hz, &hz, 1, false, &response);
      printf("%.17g %.17g ", creal(response), cimag(response));
    }
    printf("\n");
  }
  return 0;
}
